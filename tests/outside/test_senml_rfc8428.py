"""The examples printed in RFC 8428, sections 5.1.1 to 5.1.8, resolve to the values it prints.

Read in the working group's own repository of the RFC's text and examples, core-wg/senml-spec, commit aced339.
The examples of the text carry version 5; the printed RFC leaves out `bver` where it is the default 10.
"""

from ingest.wire.senml import Record, resolve

NOW = 1.320078429e9
ONE_WIRE = "urn:dev:ow:10e2073a01080063"


def test_single_datapoint() -> None:
    """5.1.1: a temperature taken now."""
    pack = '[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]'
    assert resolve(pack, NOW) == [Record(ONE_WIRE, "Cel", NOW, 23.1)]


def test_multiple_datapoints_now() -> None:
    """5.1.2: voltage and current at an unspecified time."""
    pack = """[{"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},
               {"n":"current","u":"A","v":1.2}]"""
    assert resolve(pack, NOW) == [
        Record(f"{ONE_WIRE}:voltage", "V", NOW, 120.1),
        Record(f"{ONE_WIRE}:current", "A", NOW, 1.2),
    ]


def test_relative_times_against_a_base_time() -> None:
    """5.1.2: current at each second for the previous five; the resolved form is the RFC's own."""
    pack = """[{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,
                "n":"voltage","u":"V","v":120.1},
               {"n":"current","t":-5,"v":1.2},{"n":"current","t":-4,"v":1.3},{"n":"current","t":-3,"v":1.4},
               {"n":"current","t":-2,"v":1.5},{"n":"current","t":-1,"v":1.6},{"n":"current","v":1.7}]"""
    device = "urn:dev:ow:10e2073a0108006"
    found = resolve(pack, NOW)
    assert [(r.name, r.unit, r.value) for r in found] == [
        (f"{device}:current", "A", 1.2),
        (f"{device}:current", "A", 1.3),
        (f"{device}:current", "A", 1.4),
        (f"{device}:current", "A", 1.5),
        (f"{device}:current", "A", 1.6),
        (f"{device}:voltage", "V", 120.1),
        (f"{device}:current", "A", 1.7),
    ]
    assert [r.time_s for r in found] == [1.276020071001e09 + i for i in (0, 1, 2, 3, 4, 5, 5)]


def test_multiple_measurements() -> None:
    """5.1.3 and its resolved form, 5.1.4."""
    pack = """[{"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},
      {"u":"lon","v":24.30621},{"u":"lat","v":60.07965},{"t":60,"v":20.3},
      {"u":"lon","t":60,"v":24.30622},{"u":"lat","t":60,"v":60.07965},{"t":120,"v":20.7},
      {"u":"lon","t":120,"v":24.30623},{"u":"lat","t":120,"v":60.07966},{"u":"%EL","t":150,"v":98},
      {"t":180,"v":21.2},{"u":"lon","t":180,"v":24.30628},{"u":"lat","t":180,"v":60.07967}]"""
    printed = [
        ("%RH", 1.320067464e09, 20),
        ("lon", 1.320067464e09, 24.30621),
        ("lat", 1.320067464e09, 60.07965),
        ("%RH", 1.320067524e09, 20.3),
        ("lon", 1.320067524e09, 24.30622),
        ("lat", 1.320067524e09, 60.07965),
        ("%RH", 1.320067584e09, 20.7),
        ("lon", 1.320067584e09, 24.30623),
        ("lat", 1.320067584e09, 60.07966),
        ("%EL", 1.320067614e09, 98),
        ("%RH", 1.320067644e09, 21.2),
        ("lon", 1.320067644e09, 24.30628),
        ("lat", 1.320067644e09, 60.07967),
    ]
    assert resolve(pack, NOW) == [Record(ONE_WIRE, *row) for row in printed]


def test_multiple_data_types() -> None:
    """5.1.5: number, string, boolean and data in one pack."""
    pack = """[{"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},
      {"n":"label","vs":"Machine Room"},{"n":"open","vb":false},{"n":"nfv-reader","vd":"aGkgCg"}]"""
    assert [r.value for r in resolve(pack, NOW)] == [23.1, "Machine Room", False, "aGkgCg"]


def test_collection_of_resources() -> None:
    """5.1.6: the last record takes its base name from the third and its base time from the first."""
    pack = """[{"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},
      {"n":"humidity","u":"%RH","v":30},{"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},
      {"n":"humidity","u":"%RH","v":67}]"""
    assert resolve(pack, 0.0) == [
        Record("2001:db8::2/temperature", "Cel", 1.320078429e09, 25.2),
        Record("2001:db8::2/humidity", "%RH", 1.320078429e09, 30),
        Record("2001:db8::1/temperature", "Cel", 1.320078429e09, 12.3),
        Record("2001:db8::1/humidity", "%RH", 1.320078429e09, 67),
    ]


def test_setting_an_actuator() -> None:
    """5.1.7: a record of base values alone says nothing by itself, and a later base time may be fractional."""
    pack = """[{"bn":"urn:dev:ow:10e2073a01080063:"},{"n":"temp","u":"Cel","v":23.1},
      {"n":"heat","u":"/","v":1},{"n":"fan","u":"/","v":0}]"""
    assert [(r.name[-4:], r.value) for r in resolve(pack, NOW)] == [("temp", 23.1), ("heat", 1), (":fan", 0)]
    lights = """[{"bt":1.320078429e+09,"bu":"/","n":"2001:db8::3","v":0.5},{"n":"2001:db8::4","v":0.5},
      {"n":"2001:db8::3","t":0.1,"v":0},{"n":"2001:db8::4","t":0.1,"v":0}]"""
    assert [(r.name, r.time_s, r.value) for r in resolve(lights, 0.0)] == [
        ("2001:db8::3", 1320078429.0, 0.5),
        ("2001:db8::4", 1320078429.0, 0.5),
        ("2001:db8::3", 1320078429.1, 0.0),
        ("2001:db8::4", 1320078429.1, 0.0),
    ]
