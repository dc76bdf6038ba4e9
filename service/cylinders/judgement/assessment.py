"""What readings said of the contents, as far as the judgement needs it."""

from dataclasses import dataclass

from service.cylinders.judgement.belief import Belief


@dataclass(frozen=True, slots=True)
class Assessment:
    """The newest verdict on the present contents, or the last one before something was done to them.

    Parameters
    ----------
    identity : str
        ``identified``, ``narrowed`` or ``unrecognised``.
    candidates : tuple of str
        Designations that hold 95 % of the probability, the likeliest first.
    contamination : str
        ``none-detected``, ``air``, ``shifted``, ``mixed`` or ``undecided``.
    contents : str
        ``two-phase``, ``vapour-only``, ``liquid-full`` or ``undecided``.
    disposition, text : str
        What to do by the readings alone: its code and its words.
    belief : Belief
        What may be in it.
    liquid_full : float
        Probability that it is full of liquid [-].
    air_partial_pressure_pa : float
        At 25 °C [Pa]; 0 where air was not found.
    not_excluded : tuple of str
        ``toxic``, ``flammable``: what else the readings agree with, where nobody vouches for the contents.
    carried : bool
        Something was put in or drawn off since: it speaks of the contents before.
    """

    identity: str
    candidates: tuple[str, ...]
    contamination: str
    contents: str
    disposition: str
    text: str
    belief: Belief
    liquid_full: float = 0.0
    air_partial_pressure_pa: float = 0.0
    not_excluded: tuple[str, ...] = ()
    carried: bool = False
