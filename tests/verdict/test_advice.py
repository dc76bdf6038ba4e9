from service.verdict import advice
from service.verdict.model import Candidate, Contamination, ContentsState, Findings, Identity


def candidate(name, probability=0.5, **states):
    return Candidate(name, probability, 298.0, 0.0, states)


def test_a_name_stands_alone_where_it_may_be_clean():
    assert advice.named(candidate("R-22", none=0.1, mixed=0.4)) == "R-22"
    assert advice.named(candidate("R-22", none=0.5)) == "R-22"


def test_a_designation_believable_only_with_something_else_is_never_written_bare():
    assert (
        advice.named(candidate("R-410A", none=0.0, mixed=0.49, air=0.01))
        == "R-410A with another refrigerant in it"
    )
    assert advice.named(candidate("R-22", air=0.5)) == "R-22 with air in it"
    assert advice.named(candidate("R-22", air=0.25, mixed=0.25)) == "R-22 with something else in it"


def test_lists_say_how_many_are_left_out():
    assert advice.listed(["A"]) == "A"
    assert advice.listed(["A", "B"]) == "A or B"
    assert advice.listed(["A", "B", "C", "D"]) == "A, B, C or one other"
    assert advice.listed(["A", "B", "C", "D", "E"]) == "A, B, C or one of 2 others"


def test_contents_by_the_identity():
    narrowed = Identity("narrowed", (candidate("R-410A", mixed=0.5), candidate("R-454B", none=0.5)))
    assert advice.contents(narrowed) == "R-410A with another refrigerant in it or R-454B"
    assert "no refrigerant" in advice.contents(Identity("unrecognised", ()))


def test_the_states_of_a_candidate_are_its_probability(engine, at):
    for found in engine.verdict([at("R-22", factor=1.04)]).identity.candidates:
        assert abs(sum(found.states.values()) - found.probability) < 1e-9


def test_a_contamination_that_is_only_the_likeliest_is_told_as_that():
    shares = {"none": 0.05, "air": 0.66, "shifted": 0.0, "mixed": 0.29}
    assert "R-22 with something else in it, most likely air" in told(shares)
    assert "R-22 with air in it" in told({**shares, "air": 0.93, "mixed": 0.02})


def told(shares):
    findings = Findings(
        Identity(
            "identified", (Candidate("R-22", 0.97, 297.0, 0.0, {"none": 0.05, "air": 0.64, "mixed": 0.28}),)
        ),
        Contamination("air", shares, None, (), ()),
        ContentsState("two-phase", {"two-phase": 1.0}),
        None,
    )
    return advice.write("measure-again", findings)
