from service.cylinders.triage import Facts, Step, progress

NOTHING = Facts(False, False, False, False, False, False, False)


def test_led_step_by_step():
    seen, facts = [], NOTHING
    for change in (
        {"marks_understood": True, "has_capacity_and_tare": True}, {"weighed": True}, {"hooked_up": True},
        {"has_pairs": True, "has_verdict": True}, {"labelled": True},
    ):  # fmt: skip
        seen.append(progress(facts).next_step)
        facts = facts._replace(**change)
    assert seen == list(Step) and progress(facts).next_step is None


def test_marks_alone_are_not_enough_without_capacity_and_tare():
    assert progress(NOTHING._replace(marks_understood=True)).next_step is Step.MARKS


def test_a_step_out_of_order_counts():
    assert progress(NOTHING._replace(has_pairs=True, has_verdict=True)).done == (Step.HOOKUP, Step.VERDICT)
