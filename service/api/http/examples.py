"""Examples of the document; a test runs every one of them."""

from collections.abc import Sequence

from service.api.http.json_types import JsonObject

CYLINDER: JsonObject = {
    "serial": "HM-0001",
    "place": "shop",
    "marks": "DOT-4BA400",
    "water_capacity_lb": 47.7,
    "tare_lb": 27.4,
    "claimed_designation": "R-22",
}
CYLINDER_CHANGE: JsonObject = {"claimed_designation": "R-410A", "notes": "label half gone"}
HOOKUP: JsonObject = {
    "cylinder": "HM-0001",
    "place": "shop",
    "pressure_device": "gauge-17",
    "temperature_device": "clamp-17",
    "valve": "vapour",
}
SENML: Sequence[JsonObject] = [
    {"bn": "urn:dev:mac:0024befffe804ff1:", "bt": 1772366400, "n": "gauge-pressure", "u": "Pa", "v": 943000},
    {"n": "wall-temperature", "u": "Cel", "v": 24.0},
]
ACKNOWLEDGED: JsonObject = {"messages": [17, 18]}
MAPPING: JsonObject = {
    "mapping": {
        "topic": "vans/{place}/{device}/state",
        "time": {"path": "ts", "form": "unix-ms"},
        "value": [
            {"quantity": "gauge-pressure", "path": "psi", "unit": "[psi]"},
            {"quantity": "wall-temperature", "path": "temp", "unit": "[degF]"},
        ],
    }
}
MAPPING_TRIAL: JsonObject = {
    "mapping": {
        "name": "vans",
        "topic": "vans/{place}/{device}/state",
        "value": [{"quantity": "gauge-pressure", "path": "psi", "unit": "[psi]"}],
    },
    "topic": "vans/van-7/gauge-3/state",
    "message": {"psi": 136.6, "temp": 76.6},
}
PLACE: JsonObject = {"name": "van-2", "kind": "van", "elevation_m": 12.0}
RECLAIMER: JsonObject = {"address": "1 Example Road, Springfield", "certification_number": "RC-0001"}
ACCEPTANCE: JsonObject = {"net_mass_kg": 9.2, "lot": "L-2026-17"}
APPLIANCE: JsonObject = {
    "owner": "Example Foods", "location": "Store 12", "name": "Rack A", "refrigerant": "R-404A",
    "full_charge_lb": 100, "kind": "commercial-refrigeration",
}  # fmt: skip
APPLIANCE_WORK: JsonObject = {"kind": "leak-inspection", "passed": True}
CUSTODY: JsonObject = {"cylinder": "HM-0001", "holder": "Example Cooling"}
ORGANISATION_CHANGE: JsonObject = {"time_zone": "America/Denver"}
PLACE_CHANGE: JsonObject = {"elevation_m": 1609.0}
INSTRUMENT_CHECK: JsonObject = {"method": "open-air", "error_kpa": 1.4}
ANALYSIS: JsonObject = {
    "cylinder": "HM-0001",
    "kind": "laboratory",
    "composition": {
        "parts": [
            {"designation": "R-22", "mass_fraction": 0.994},
            {"designation": "R-134a", "mass_fraction": 0.003},
        ],
        "mass_fraction_uncertainty": 0.002,
    },
    "non_condensables_percent": 0.8,
    "moisture_ppm": 14,
    "method": "gas chromatography",
    "laboratory": "Example Analytical",
    "number": "L-2026-0117",
}
PAIR: JsonObject = {
    "cylinder": "HM-0001",
    "temperature_f": 72.0,
    "gauge_pressure_psi": 125.0,
    "elevation_m": 0,
}
TRANSFER: JsonObject = {
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
RECOVERY: JsonObject = {
    "cylinders": ["HM-0004"],
    "refrigerant": "R-22",
    "equipment": {"owner": "Example Foods", "location": "12 Pier Road, roof", "charge_lb": 9.0},
    "technician": "A. Field",
    "certification_number": "CERT-0001",
}
CYLINDER_SWAP: JsonObject = {"gross_after_lb": 33.0, "to_cylinder": "HM-0003"}
RECOVERY_END: JsonObject = {
    "gross_after_lb": 29.6,
    "vacuum_in_hg": 10.0,
    "held_minutes": 5,
    "difference_reason": "part of the charge had leaked",
}
VACUUM_READING: JsonObject = {"vacuum_in_hg": 10.0}
METHOD_CHANGE: JsonObject = {"method": "vapour"}
CORRECTION: JsonObject = {"mass_lb": 6.1, "reason": "the hose was on the scale"}
CHECK: JsonObject = {"refrigerant": "R-22", "mass_kg": 2.5}
ADVICE_RELEASE: JsonObject = {"reason": "the laboratory found it clean, number L-17"}
INSTRUCTION: JsonObject = {"cylinder": "HM-0099", "text": "Weigh it before you use it"}
INSTRUCTION_DONE: JsonObject = {"answer": "41.2 lb"}
HOLD: JsonObject = {"cylinder": "HM-0099", "reason": "dent at the foot ring"}
EXCHANGE: JsonObject = {
    "cylinder": "HM-0001",
    "counterparty": "Example Supply",
    "receipt": "N-0042",
    "gross_mass_lb": 33.5,
    "destination": "reclaim",
    "received": {"serial": "HM-0099", "marks": "DOT-4BA400", "water_capacity_lb": 47.7, "tare_lb": 27.6},
}
REQUALIFICATION: JsonObject = {"cylinder": "HM-0001", "passed": True, "stamp": "4 A123 26 S"}
INSPECTION: JsonObject = {"cylinder": "HM-0001", "passed": True, "travelled": "upright and secured"}
EVACUATION: JsonObject = {"cylinder": "HM-0001", "vacuum_micron": 480}
TEST: JsonObject = {"cylinder": "HM-0001", "test": "acid", "passed": True, "note": "no change of color"}
PURITY: JsonObject = {
    "cylinder": "HM-0001",
    "passed": True,
    "laboratory": "Example Supply",
    "designation": "R-22",
    "other_refrigerants_percent": 0.2,
}
SCRAPPING: JsonObject = {"cylinder": "HM-0099", "reason": "weld at the foot ring cracked"}
LABELLED: JsonObject = {"cylinder": "HM-0001"}
PRICE: JsonObject = {"credit_per_kg": 1.0, "charge_per_kg": 2.0, "currency": "USD"}
TRIAGE: JsonObject = {"serials": ["V-1", "V-2"], "place": "shop"}
CYLINDERS_CSV = (
    "serial,marks,water_capacity_lb,tare_lb,claimed_designation,valves\n"
    "HM-0101,DOT-4BA400,47.7,27.4,R-22,vapour;liquid\n"
    "HM-0102,DOT-4BW350,95.3,48.1,,\n"
)
DEVICE: JsonObject = {"device": "urn:dev:ops:32473-gauge-7", "place": "shop", "probe_lag_s": 75}
DEVICE_CHANGE: JsonObject = {"called": "red gauge, van 7"}
DEVICES_CSV = "device,place,probe_lag_s\nurn:dev:ops:32473-gauge-7,shop,75\n"
TOKEN: JsonObject = {"name": "fleet system", "scope": "reader"}
WEBHOOK: JsonObject = {
    "url": "https://fleet.example/heelmark",
    "types": ["heelmark.verdict.reached", "heelmark.alarm.raised"],
    "mode": "binary",
    "description": "the dispatch office",
}
REPLAY: JsonObject = {"from": "2026-05-04T00:00:00Z", "to": "2026-05-05T00:00:00Z"}
DEVICE_CREDENTIAL: JsonObject = {"device": "gauge-17", "place": "shop"}
VERDICT: JsonObject = {
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
OBSERVATION: JsonObject = {
    "cylinder": "HM-0001",
    "combustible_gas_found": False,
    "analyser": {"parts": [{"designation": "R-22", "mass_fraction": 0.98}]},
    "provenance": "maker",
}
LIVE_HOOKUP: JsonObject = {
    "settling_state": "settling",
    "reasons": [],
    "at": "2026-05-04T13:30:00Z",
    "temperature_c": 24.8,
    "gauge_pressure_kpa": 942.0,
}
LIVE: JsonObject = {
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
