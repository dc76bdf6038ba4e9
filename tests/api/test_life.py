"""Bad input at the cylinder's life over REST: a clear problem, and nothing half-written."""

import pytest

from tests.api.test_error_shape import Clients
from tests.support.http import assert_problem

CYLINDER = {
    "serial": "HM-1", "place": "shop", "marks": "DOT-4BA400", "requalification_stamp": "6 A123 24",
    "water_capacity_lb": 47.7, "tare_lb": 27.4, "evacuated": True,
}  # fmt: skip


@pytest.fixture
def supervisor(client_as: Clients):
    return client_as("supervisor")


def post(client, path, body, status=201, **headers):
    answer = client.post(f"/api/v1/{path}", json=body, headers=headers)
    assert answer.status_code == status, answer.get_data(as_text=True)
    return answer.get_json()


def transfer(client, status=201, **body):
    return post(
        client, "transfers", {"cylinder": "HM-1", "direction": "in", "refrigerant": "R-22", **body}, status
    )


def fields(body):
    return {error["field"] for error in body["errors"]}


def test_a_serial_entered_twice(supervisor):
    post(supervisor, "cylinders", CYLINDER)
    body = post(supervisor, "cylinders", CYLINDER, 409)
    assert body["reasons"][0]["code"] == "serial-exists"
    body = post(supervisor, "triage", {"serials": ["V-1", "V-2", "V-1"]}, 422)
    assert fields(body) == {"serials"}
    body = post(supervisor, "triage", {"serials": ["V-1", "HM-1"]}, 409)
    assert body["reasons"][0]["code"] == "serial-exists"
    assert supervisor.get("/api/v1/cylinders/V-1").status_code == 404


def test_a_tare_above_gross(supervisor):
    body = post(supervisor, "cylinders", {**CYLINDER, "gross_mass_lb": 20.0}, 422)
    assert fields(body) == {"tare_kg"}
    assert supervisor.get("/api/v1/cylinders/HM-1").status_code == 404


def test_a_negative_net(supervisor):
    post(supervisor, "cylinders", CYLINDER)
    assert fields(transfer(supervisor, 422, gross_after_lb=20.0)) == {"gross_after_kg"}
    assert fields(transfer(supervisor, 422, mass_kg=-1.0)) == {"mass_kg"}
    exchange = {
        "cylinder": "HM-1",
        "counterparty": "Example Supply",
        "receipt": "N-1",
        "gross_mass_lb": 20.0,
    }
    assert fields(post(supervisor, "exchanges", exchange, 422)) == {"gross_mass_kg"}


def test_a_future_stamp(supervisor):
    body = post(supervisor, "cylinders", {**CYLINDER, "requalification_stamp": "12/2026"}, 422)
    assert fields(body) == {"requalification_stamp"}
    post(supervisor, "cylinders", CYLINDER)
    again = {"cylinder": "HM-1", "stamp": "1 B234 2031"}
    assert fields(post(supervisor, "requalifications", again, 422)) == {"stamp"}
    assert fields(post(supervisor, "requalifications", {"cylinder": "HM-1"}, 422)) == {"stamp"}


def test_two_refrigerants_at_once(supervisor):
    post(supervisor, "cylinders", CYLINDER)
    body = transfer(supervisor, 422, designation="R-410A", mass_kg=1.0)
    assert fields(body) == {"refrigerant"}
    assert fields(transfer(supervisor, 422, refrigerant="R-22 and R-410A", mass_kg=1.0)) == {"refrigerant"}
    assert fields(transfer(supervisor, 422, mass_kg=1.0, mass_lb=2.2)) == {"mass_kg"}


def test_a_stale_if_match(supervisor):
    post(supervisor, "cylinders", CYLINDER)
    tag = supervisor.get("/api/v1/cylinders/HM-1").headers["ETag"]
    transfer(supervisor, mass_kg=2.0)
    answer = supervisor.patch("/api/v1/cylinders/HM-1", json={"tare_lb": 27.0}, headers={"If-Match": tag})
    assert_problem(answer, 412, "stale")
    assert_problem(supervisor.patch("/api/v1/cylinders/HM-1", json={"tare_lb": 27.0}), 428)


def test_a_retry_is_recorded_once_and_answered_again(supervisor):
    post(supervisor, "cylinders", CYLINDER)
    body = {"cylinder": "HM-1", "direction": "in", "refrigerant": "R-22", "mass_kg": 2.0}
    first = post(supervisor, "transfers", body, **{"Idempotency-Key": "job-1"})
    assert post(supervisor, "transfers", body, **{"Idempotency-Key": "job-1"}) == first
    assert len(supervisor.get("/api/v1/transfers?cylinder=HM-1").get_json()["items"]) == 1
    other = {**body, "mass_kg": 3.0}
    assert_problem(
        supervisor.post("/api/v1/transfers", json=other, headers={"Idempotency-Key": "job-1"}), 422
    )


def test_the_check_tells_every_rule_with_clause_and_mark_in_both_units(supervisor):
    post(supervisor, "cylinders", {**CYLINDER, "marks": "DOT-4BA350"})
    body = post(supervisor, "cylinders/HM-1/checks", {"refrigerant": "r410a", "mass_lb": 60.0}, 200)
    assert body["refrigerant"] == "R-410A" and not body["allowed"] and not body["may_be_overridden"]
    assert {reason["code"] for reason in body["reasons"]} >= {"rating-55c", "fill-80-percent", "fill-55c"}
    for reason in body["reasons"]:
        assert reason["source"] and reason["edition"] and reason["mark"] and reason["detail"]
    assert body["limit"]["gross_mass_lb"] == pytest.approx(27.4 + body["limit"]["net_mass_lb"])
    assert body["limit"]["governed_by"]["code"] == "fill-80-percent"
    refused = transfer(supervisor, 409, refrigerant="R-410A", mass_lb=60.0)
    assert {one["code"] for one in refused["reasons"]} == {one["code"] for one in body["reasons"]}


def test_suitable_best_first_and_why_the_others_can_not(supervisor):
    for serial, more in (
        ("HM-1", {"flammable_marked": True}), ("HM-2", {}), ("HM-3", {"flammable_marked": True, "marks": "DOT-4BA350"}),
        ("HM-4", {"flammable_marked": True}),
    ):  # fmt: skip
        post(supervisor, "cylinders", {**CYLINDER, "serial": serial, **more})
    post(
        supervisor,
        "transfers",
        {"cylinder": "HM-4", "direction": "in", "refrigerant": "R-454B", "mass_kg": 4.0},
    )
    answer = supervisor.get("/api/v1/cylinders/suitable?refrigerant=R-454B&mass_kg=6&site=shop").get_json()
    assert [one["cylinder"] for one in answer["items"]] == ["HM-4", "HM-1"]
    assert {one["cylinder"]: [r["code"] for r in one["reasons"]] for one in answer["unsuitable"]} == {
        "HM-2": ["flammable-not-marked"], "HM-3": ["rating-55c"],
    }  # fmt: skip
    assert supervisor.get("/api/v1/cylinders/suitable?refrigerant=R-454B").status_code == 422
    assert (
        supervisor.get("/api/v1/cylinders/suitable?refrigerant=R-454B&mass_kg=6&site=moon").status_code == 404
    )


def test_only_a_supervisor_releases_and_overrides(supervisor, technician):
    post(technician, "cylinders", CYLINDER)
    hold = post(technician, "holds", {"cylinder": "HM-1", "reason": "dent at the foot ring"})
    refused = transfer(technician, 409, mass_kg=2.0)
    assert [one["code"] for one in refused["reasons"]] == ["on-hold"]
    assert technician.delete(f"/api/v1/holds/{hold['id']}").status_code == 403
    assert supervisor.delete(f"/api/v1/holds/{hold['id']}?reason=only+paint").status_code == 200
    assert supervisor.delete(f"/api/v1/holds/{hold['id']}").status_code == 409
    transfer(technician, mass_kg=2.0)
    assert transfer(technician, 403, refrigerant="R-410A", mass_kg=1.0, override_reason="x")["status"] == 403
    assert transfer(supervisor, refrigerant="R-410A", mass_kg=1.0, override_reason="x")["overridden"]


def test_a_failed_inspection_puts_it_on_hold(technician):
    post(technician, "cylinders", CYLINDER)
    failed = {"cylinder": "HM-1", "passed": False, "findings": ["cracked weld at the foot ring"]}
    post(technician, "inspections", failed)
    held = technician.get("/api/v1/holds?cylinder=HM-1").get_json()["items"]
    assert "cracked weld" in held[0]["reason"]
    history = technician.get("/api/v1/cylinders/HM-1/history").get_json()["items"]
    assert [entry["data"].get("change") for entry in history][:2] == ["held", "inspection"]


def test_evacuation_wants_a_deep_enough_vacuum_and_an_empty_cylinder(technician):
    post(technician, "cylinders", {**CYLINDER, "evacuated": False})
    shallow = {"cylinder": "HM-1", "vacuum_micron": 5000}
    assert fields(post(technician, "evacuations", shallow, 422)) == {"vacuum_pa"}
    a_little_more = {"cylinder": "HM-1", "vacuum_micron": 1001}
    assert fields(post(technician, "evacuations", a_little_more, 422)) == {"vacuum_pa"}
    post(technician, "evacuations", {"cylinder": "HM-1", "vacuum_micron": 1000})
    transfer(technician, mass_kg=2.0)
    assert post(technician, "evacuations", {"cylinder": "HM-1", "vacuum_micron": 480}, 409)["reasons"]


def test_corrections_are_entries(supervisor, technician):
    post(technician, "cylinders", CYLINDER)
    made = transfer(technician, mass_kg=5.0)
    assert (
        technician.post(
            f"/api/v1/transfers/{made['id']}/corrections", json={"mass_kg": 4.0, "reason": "x"}
        ).status_code
        == 403
    )
    entry = post(
        supervisor,
        f"transfers/{made['id']}/corrections",
        {"mass_kg": 4.0, "reason": "the hose was on the scale"},
    )
    assert entry["corrects"] == made["id"] and entry["mass_kg"] == pytest.approx(-1.0)
    assert supervisor.get(f"/api/v1/transfers/{made['id']}").get_json()["mass_kg"] == 5.0
    assert supervisor.get("/api/v1/cylinders/HM-1").get_json()["net_mass_kg"] == pytest.approx(4.0)
    post(supervisor, f"transfers/{made['id']}/corrections", {"mass_kg": 3.0, "reason": "again"}, 409)
    found = supervisor.get("/api/v1/records?from=2026-01-01&to=2026-12-31").get_json()
    assert found["totals"][0]["mass_kg"] == pytest.approx(4.0)


def test_release_in_a_van_and_all_on_it(technician):
    for serial in ("HM-1", "HM-2"):
        post(technician, "cylinders", {**CYLINDER, "serial": serial})
        post(
            technician,
            "transfers",
            {"cylinder": serial, "direction": "in", "refrigerant": "R-134a", "mass_kg": 6.0},
        )
    one = technician.get("/api/v1/cylinders/HM-1/release?volume_m3=10").get_json()
    both = technician.get("/api/v1/places/shop/release?volume_ft3=353.147").get_json()
    assert both["concentration_ppm"] == pytest.approx(2 * one["concentration_ppm"], rel=1e-4)
    assert {rule["code"] for rule in both["exceeded"]} == {"rcl", "oxygen"}
    assert both["materials_of_trade"]["allowed"] and both["cylinders"] == ["HM-1", "HM-2"]
    for bad in ("", "?volume_m3=0", "?volume_m3=nan", "?volume_m3=1&volume_ft3=1"):
        assert technician.get(f"/api/v1/cylinders/HM-1/release{bad}").status_code == 422


def test_paper(technician):
    post(technician, "cylinders", CYLINDER)
    transfer(technician, mass_kg=2.0)
    for path, kind in (
        ("cylinders/HM-1/label.pdf", "application/pdf"), ("cylinders/HM-1/label.pdf?paper=a4", "application/pdf"),
        ("cylinders/HM-1/label.svg?units=si&colour=false", "image/svg+xml"),
        ("labels.pdf?serials=HM-1,HM-1", "application/pdf"),
        ("labels.pdf?place=shop&paper=a4", "application/pdf"),
        ("records?from=2026-01-01&to=2026-12-31&format=pdf", "application/pdf"),
        ("records?from=2026-01-01&to=2026-12-31&format=csv", "text/csv; charset=utf-8"),
    ):  # fmt: skip
        answer = technician.get(f"/api/v1/{path}")
        assert (answer.status_code, answer.content_type) == (200, kind), path
    svg = technician.get("/api/v1/cylinders/HM-1/label.svg?units=si").get_data(as_text=True)
    assert "R-22" in svg and "2.00 kg" in svg and "UN1018" in svg
    shipping = technician.get("/api/v1/cylinders/HM-1/shipping-description").get_json()
    assert shipping["text"] == "UN1018, Refrigerant gas R 22, 2.2; 1 cylinder, 4.4 lb net"
    for bad in ("labels.pdf", "labels.pdf?place=shop&serials=HM-1", "records?from=2026-02-30&to=2026-12-31",
                "records?from=2026-12-31&to=2026-01-01", "cylinders/HM-1/label.pdf?paper=napkin"):  # fmt: skip
        assert_problem(technician.get(f"/api/v1/{bad}"), 422, "validation")


def test_prices_are_the_owners_own(supervisor, technician, services, client_as):
    from tests.conftest import make_owner

    put = supervisor.put(
        "/api/v1/prices/r22", json={"credit_per_kg": 2.5, "charge_per_kg": 4.0, "currency": "USD"}
    )
    assert put.status_code == 200 and put.get_json()["designation"] == "R-22"
    stale = supervisor.put(
        "/api/v1/prices/R-22", json={"credit_per_kg": 3, "charge_per_kg": 4}, headers={"If-Match": '"7"'}
    )
    assert_problem(stale, 412, "stale")
    other = supervisor.put(
        "/api/v1/prices/R-410A", json={"credit_per_kg": 1, "charge_per_kg": 4, "currency": "EUR"}
    )
    assert_problem(other, 422, "validation")
    post(technician, "cylinders", CYLINDER)
    checked = post(technician, "cylinders/HM-1/checks", {"refrigerant": "R-22", "mass_kg": 4.0}, 200)
    assert checked["stake"] == {"credit": 10.0, "charge": 16.0, "at_stake": 26.0, "unpriced": []}
    stranger = client_as("supervisor", make_owner(services, "other"))
    assert stranger.get("/api/v1/prices").get_json()["items"] == []
    assert stranger.delete("/api/v1/prices/R-22").status_code == 404
    assert supervisor.delete("/api/v1/prices/R-22").status_code == 204


def test_triage_leads_each_cylinder_step_by_step(technician):
    post(technician, "triage", {"serials": ["V-1", "V-2"], "place": "shop"})

    def step():
        items = technician.get("/api/v1/triage?place=shop").get_json()["items"]
        return {one["cylinder"]: one["next_step"] for one in items}

    assert step() == {"V-1": "marks", "V-2": "marks"}

    def patch(**body):
        tag = technician.get("/api/v1/cylinders/V-1").headers["ETag"]
        assert (
            technician.patch("/api/v1/cylinders/V-1", json=body, headers={"If-Match": tag}).status_code == 200
        )

    patch(marks="DOT-4BA400", water_capacity_lb=47.7, tare_lb=27.4)
    assert step()["V-1"] == "weighing"
    patch(gross_mass_lb=40.0)
    assert step()["V-1"] == "hookup"
    post(
        technician,
        "equilibrium-pairs",
        {"cylinder": "V-1", "temperature_c": 24.8, "absolute_pressure_kpa": 1044.0},
    )
    assert step()["V-1"] == "label"
    post(technician, "labels", {"cylinder": "V-1"})
    assert step() == {"V-2": "marks"}


def test_marks_that_nobody_can_read_are_kept_and_refused_for_what_needs_them(technician):
    post(technician, "cylinders", {**CYLINDER, "marks": "half rusted 4B?"})
    assert technician.get("/api/v1/cylinders/HM-1").get_json()["marks"] == "half rusted 4B?"
    refused = transfer(technician, 409, mass_kg=1.0)
    assert "marks-unknown" in {one["code"] for one in refused["reasons"]}


def test_a_longer_period_rests_on_the_owners_statement(technician):
    long = {
        **CYLINDER,
        "requalification_stamp": "6-19",
        "requalification_condition": "coated-non-corrosive-volumetric",
    }
    assert fields(post(technician, "cylinders", long, 422)) == {"requalification_statement"}
    body = post(
        technician, "cylinders", {**long, "requalification_statement": "coated, dry gas only: the owner"}
    )
    assert body["requalification"]["due_on"] == "2031-06-30" and body["requalification"]["state"] == "current"


def test_what_leaves_a_valve_goes_by_its_mark_and_the_position(technician):
    post(technician, "cylinders", CYLINDER)
    transfer(technician, refrigerant="R-407C", mass_kg=5.0)
    out = {"cylinder": "HM-1", "direction": "out", "mass_kg": 0.5}
    assert post(technician, "transfers", {**out, "valve": "vapour"})["phase"] == "vapour"
    assert (
        post(technician, "transfers", {**out, "valve": "vapour", "position": "inverted"})["phase"] == "liquid"
    )
    refused = post(technician, "transfers", {**out, "valve": "liquid", "phase": "vapour"}, 422)
    assert fields(refused) == {"phase"}


def test_how_full_it_is(technician):
    post(technician, "cylinders", CYLINDER)
    assert technician.get("/api/v1/cylinders/HM-1/filling").get_json()["limit"] is None
    transfer(technician, mass_lb=20.0)
    filled = technician.get("/api/v1/cylinders/HM-1/filling").get_json()
    assert filled["judged_by"] == ["R-22"] and filled["net_mass_lb"] == pytest.approx(20.0)
    # Guideline K form: 0.80 x 47.7 lb x about 1.19.
    assert filled["limit"]["net_mass_lb"] == pytest.approx(0.8 * 47.7 * 1.193, rel=0.005)
    assert filled["remaining_lb"] == pytest.approx(filled["limit"]["net_mass_lb"] - 20.0)
    assert 0.3 < filled["liquid_fraction"] < 0.4 and filled["liquid_full_temperature_c"] is None


def test_marks_typed_as_one_line_are_read_off(technician):
    line = "DOT-4BA400 WC 47.7 LB TW 27.4 6 A123 23 S"
    body = post(technician, "cylinders", {"serial": "HM-1", "marks": line})
    assert (body["water_capacity_lb"], body["tare_lb"]) == (pytest.approx(47.7), pytest.approx(27.4))
    assert (
        body["requalification_stamp"] == "6 A123 23 S" and body["requalification"]["due_on"] == "2028-06-30"
    )
    assert body["marks"] == line
    given = post(technician, "cylinders", {"serial": "HM-2", "marks": line, "tare_lb": 28.0})
    assert given["tare_lb"] == pytest.approx(28.0)


def test_an_instruction_waits_until_somebody_ticks_it_off_once(supervisor, technician):
    post(technician, "cylinders", CYLINDER)
    pinned = post(supervisor, "instructions", {"cylinder": "HM-1", "text": "What does it weigh?"})
    assert [one["id"] for one in technician.get("/api/v1/instructions").get_json()["items"]] == [pinned["id"]]
    assert pinned["done_at"] is None
    done = f"instructions/{pinned['id']}/done"
    ticked = post(technician, done, {"answer": "41.2 lb"}, 200)
    assert (ticked["text"], ticked["answer"]) == ("What does it weigh?", "41.2 lb")
    assert ticked["done_by"] != pinned["pinned_by"]
    assert ticked["done_at"] is not None
    again = post(technician, done, {"answer": "12 lb"}, 409)
    assert [one["code"] for one in again["reasons"]] == ["instruction-done"]
    assert technician.get("/api/v1/instructions?cylinder=HM-1").get_json()["items"] == []
    (kept,) = technician.get("/api/v1/instructions?cylinder=HM-1&open=false").get_json()["items"]
    assert kept["answer"] == "41.2 lb"
    history = technician.get("/api/v1/cylinders/HM-1/history").get_json()["items"]
    assert [entry["data"]["change"] for entry in history][:2] == ["instruction-done", "instructed"]
    post(technician, "instructions", {"cylinder": "HM-9", "text": "x"}, 404)
    post(technician, "instructions/99/done", {}, 404)
