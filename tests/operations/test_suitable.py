from service.cylinders.judgement.state import Incoming
from service.operations import suitable
from tests.support.fleet import delivered, put_in
from tests.support.queries import recorded


def test_the_number_of_statements_does_not_grow_with_the_fleet(services, actor):
    counts = []
    for start, stop in ((0, 3), (3, 25)):
        for number in range(start, stop):
            delivered(services, actor, f"N-{number:02}")
            if number % 2:
                put_in(services, actor, 2.0, serial=f"N-{number:02}")
        with recorded(services.database.engine) as statements:
            fit, unfit = suitable.suitable(services, actor, Incoming("R-22", 6.0), place="shop")
        counts.append(len(statements))
        assert len(fit) == stop and not unfit
    assert counts[0] == counts[1]
    assert [one.cylinder.serial for one in fit[:2]] == ["N-01", "N-03"]
