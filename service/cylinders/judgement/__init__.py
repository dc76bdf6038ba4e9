"""The one judgement of a cylinder: what it may hold, what may be done with it, what must be done next, its name.

PURE. Label, page, guard, paper, alarms, interface: every voice reads a ``Judgement`` and none thinks for itself.
``belief`` is what the contents may be and how that changes with what is done; ``hazards``, ``naming``, ``limit``,
``guard``, ``advice`` and ``attention`` each derive one part of it; ``judge`` puts them together.
"""
