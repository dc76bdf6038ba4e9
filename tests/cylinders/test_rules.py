from service.cylinders import rules


def test_every_rule_says_where_it_stands_and_how_it_is_known():
    assert len(rules.ALL) > 30
    for code, rule in rules.ALL.items():
        assert rule.code == code and rule.citation and rule.edition and rule.text.endswith(".")
        assert rule.mark in {"read", "memory", "inferred", "computed", "practice"}
        if rule.mark == "memory":
            assert "memory" in rule.edition or "mark in the catalogue" in rule.edition, code
