"""What cylinders turned out to hold, and how right the verdicts before it were.

`established` reads a laboratory's composition, `scores` weighs a verdict against what turned out, `intervals` says how
little few results say.
"""
