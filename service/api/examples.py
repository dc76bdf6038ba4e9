"""Examples of the document; a test runs every one of them."""

from typing import Any

CYLINDER: dict[str, Any] = {
    "serial": "HM-0001",
    "place": "shop",
    "marks": "DOT-4BA400",
    "water_capacity_lb": 47.7,
    "tare_lb": 27.4,
    "claimed_designation": "R-22",
}
CYLINDER_CHANGE: dict[str, Any] = {"claimed_designation": "R-410A", "notes": "label half gone"}
HOOKUP: dict[str, Any] = {
    "cylinder": "HM-0001",
    "place": "shop",
    "pressure_device": "gauge-17",
    "temperature_device": "clamp-17",
    "valve": "vapour",
}
PLACE: dict[str, Any] = {"name": "van-2", "kind": "van", "elevation_m": 12.0}
RECLAIMER: dict[str, Any] = {"address": "1 Example Road, Springfield", "certification_number": "RC-0001"}
ACCEPTANCE: dict[str, Any] = {"net_mass_kg": 9.2, "lot": "L-2026-17"}
APPLIANCE: dict[str, Any] = {
    "owner": "Example Foods", "location": "Store 12", "name": "Rack A", "refrigerant": "R-404A",
    "full_charge_lb": 100, "kind": "commercial-refrigeration",
}  # fmt: skip
APPLIANCE_WORK: dict[str, Any] = {"kind": "leak-inspection", "passed": True}
CUSTODY: dict[str, Any] = {"cylinder": "HM-0001", "holder": "Example Cooling"}
ORGANISATION_CHANGE: dict[str, Any] = {"time_zone": "America/Denver"}
PLACE_CHANGE: dict[str, Any] = {"elevation_m": 1609.0}
INSTRUMENT_CHECK: dict[str, Any] = {"method": "open-air", "error_kpa": 1.4}
PAIR: dict[str, Any] = {
    "cylinder": "HM-0001",
    "temperature_f": 72.0,
    "gauge_pressure_psi": 125.0,
    "elevation_m": 0,
}
TRANSFER: dict[str, Any] = {
    "cylinder": "HM-0001",
    "direction": "in",
    "refrigerant": "R-22",
    "mass_lb": 6.5,
    "technician": "A. Field",
    "certification_number": "CERT-0001",
    "equipment": {
        "owner": "Example Foods",
        "location": "12 Pier Road, roof",
        "appliance": "walk-in cooler",
        "circuit": "A",
        "charge_lb": 9.0,
    },
}
RECOVERY: dict[str, Any] = {
    "cylinders": ["HM-0004"],
    "refrigerant": "R-22",
    "equipment": {"owner": "Example Foods", "location": "12 Pier Road, roof", "charge_lb": 9.0},
    "technician": "A. Field",
    "certification_number": "CERT-0001",
}
CYLINDER_SWAP: dict[str, Any] = {"gross_after_lb": 33.0, "to_cylinder": "HM-0003"}
RECOVERY_END: dict[str, Any] = {
    "gross_after_lb": 29.6,
    "vacuum_in_hg": 10.0,
    "held_minutes": 5,
    "difference_reason": "part of the charge had leaked",
}
VACUUM_READING: dict[str, Any] = {"vacuum_in_hg": 10.0}
METHOD_CHANGE: dict[str, Any] = {"method": "vapour"}
CORRECTION: dict[str, Any] = {"mass_lb": 6.1, "reason": "the hose was on the scale"}
CHECK: dict[str, Any] = {"refrigerant": "R-22", "mass_kg": 2.5}
ADVICE_RELEASE: dict[str, Any] = {"reason": "the laboratory found it clean, number L-17"}
HOLD: dict[str, Any] = {"cylinder": "HM-0099", "reason": "dent at the foot ring"}
EXCHANGE: dict[str, Any] = {
    "cylinder": "HM-0001",
    "counterparty": "Example Supply",
    "receipt": "N-0042",
    "gross_mass_lb": 33.5,
    "destination": "reclaim",
    "received": {"serial": "HM-0099", "marks": "DOT-4BA400", "water_capacity_lb": 47.7, "tare_lb": 27.6},
}
REQUALIFICATION: dict[str, Any] = {"cylinder": "HM-0001", "passed": True, "stamp": "4 A123 26 S"}
INSPECTION: dict[str, Any] = {"cylinder": "HM-0001", "passed": True, "travelled": "upright and secured"}
EVACUATION: dict[str, Any] = {"cylinder": "HM-0001", "vacuum_micron": 480}
TEST: dict[str, Any] = {"cylinder": "HM-0001", "test": "acid", "passed": True, "note": "no change of colour"}
PURITY: dict[str, Any] = {
    "cylinder": "HM-0001",
    "passed": True,
    "laboratory": "Example Supply",
    "designation": "R-22",
    "other_refrigerants_percent": 0.2,
}
SCRAPPING: dict[str, Any] = {"cylinder": "HM-0099", "reason": "weld at the foot ring cracked"}
LABELLED: dict[str, Any] = {"cylinder": "HM-0001"}
PRICE: dict[str, Any] = {"credit_per_kg": 1.0, "charge_per_kg": 2.0, "currency": "USD"}
TRIAGE: dict[str, Any] = {"serials": ["V-1", "V-2"], "place": "shop"}
CYLINDERS_CSV = (
    "serial,marks,water_capacity_lb,tare_lb,claimed_designation,valves\n"
    "HM-0101,DOT-4BA400,47.7,27.4,R-22,vapour;liquid\n"
    "HM-0102,DOT-4BW350,95.3,48.1,,\n"
)
DEVICES_CSV = "device,place,probe_lag_s\nurn:dev:ops:32473-gauge-7,shop,75\n"
TOKEN: dict[str, Any] = {"name": "fleet system", "scope": "reader"}
WEBHOOK: dict[str, Any] = {
    "url": "https://fleet.example/heelmark",
    "types": ["heelmark.verdict.reached", "heelmark.alarm.raised"],
    "mode": "binary",
    "description": "the dispatch office",
}
REPLAY: dict[str, Any] = {"from": "2026-05-04T00:00:00Z", "to": "2026-05-05T00:00:00Z"}
DEVICE_CREDENTIAL: dict[str, Any] = {"device": "gauge-17", "place": "shop"}
VERDICT: dict[str, Any] = {
    "pairs": [
        {
            "temperature_c": 24.8,
            "absolute_pressure_kpa": 1044.0,
            "temperature_uncertainty_k": 0.3,
            "pressure_uncertainty_kpa": 5.0,
            "temperature_bias_uncertainty_k": 0.2,
            "pressure_bias_uncertainty_kpa": 3.0,
        }
    ],
    "elevation_m": 0,
    "claimed_designation": "R-22",
    "cylinder": {"water_capacity_kg": 21.6, "net_mass_kg": 8.0},
    "observations": {
        "combustible_gas_found": False,
        "analyser": {"parts": [{"designation": "R-22", "mass_fraction": 0.98}]},
    },
}
LIVE_HOOKUP: dict[str, Any] = {
    "settling_state": "settling",
    "reasons": [],
    "at": "2026-05-04T13:30:00Z",
    "temperature_c": 24.8,
    "gauge_pressure_kpa": 942.0,
}
LIVE: dict[str, Any] = {
    "place": "shop",
    "hookups": [{"hookup": 1, **LIVE_HOOKUP}],
    "devices": [
        {
            "device": "gauge-17",
            "place": "shop",
            "last_seen": "2026-05-04T13:30:00Z",
            "readings": {"gauge-pressure": {"value": 942000.0, "unit": "Pa", "at": "2026-05-04T13:30:00Z"}},
        }
    ],
}
