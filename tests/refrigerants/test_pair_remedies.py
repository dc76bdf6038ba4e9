from itertools import combinations

from service.refrigerants.fluids import FLUIDS, Family
from service.refrigerants.pair_remedies import ASSIGNED, FAMILY_AVERAGE, REPLACED, remedy_for


def test_every_pair_named_is_of_known_fluids() -> None:
    for pair in (*ASSIGNED, *REPLACED):
        assert len(pair) == 2
        assert pair <= set(FLUIDS)


def test_a_pair_is_either_replaced_or_assigned() -> None:
    assert not set(ASSIGNED) & set(REPLACED)


def test_every_pair_has_a_remedy_whatever_the_order() -> None:
    for first, second in combinations(FLUIDS, 2):
        remedy = remedy_for(first, second)
        assert remedy == remedy_for(second, first)
        assert 0.85 <= remedy.gamma_t <= 1.05
        assert 0.0 < remedy.relative_uncertainty <= 0.05
        assert remedy.evidence


def test_an_assigned_pair_beats_its_family() -> None:
    assert remedy_for("R-22", "R-125").gamma_t == 0.978
    assert FAMILY_AVERAGE[frozenset((Family.HCFC, Family.HFC))].gamma_t == 0.987
    assert remedy_for("R-123", "R-32").gamma_t == 0.987
