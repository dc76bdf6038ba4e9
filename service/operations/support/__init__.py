"""What use cases share: who acts and with what, errors, dates, beliefs, the judgement of what the store has."""
