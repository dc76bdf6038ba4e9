"""What the gate of wheels says of pip's answer."""

from tests.wheels import judge


def test_all_have_one():
    assert judge(0, "Would install alembic-1.16 numpy-2.4\n", "") == 0


def test_one_has_none(capsys):
    assert judge(1, "", "ERROR: No matching distribution found for uwsgi==2.0.28\n") == 1
    assert "uwsgi==2.0.28" in capsys.readouterr().out


def test_an_index_that_is_away_is_said_and_stops_nobody(capsys):
    assert (
        judge(1, "", "WARNING: Retrying after connection broken\nERROR: No matching distribution found") == 0
    )
    assert "not looked up" in capsys.readouterr().out
