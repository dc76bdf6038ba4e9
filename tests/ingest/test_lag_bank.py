"""The filters keep their numbers, or say that they have lost them."""

import numpy as np
import pytest

from ingest.lag_bank import LAG, BankSettings, LagBank


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("learned", [-900.0, 900.0])
def test_a_lag_learned_from_nonsense_stays_within_reason(learned: float) -> None:
    bank = LagBank(BankSettings(), 0.0, 295.0)
    bank.state[:, LAG] = learned
    bank.predict(60.0)
    bank.update(bank.clamp_row(-50.0), 300.0, 0.01)
    assert np.isfinite(bank.state).all()
    assert np.isfinite(bank.cov).all()


@pytest.mark.filterwarnings("ignore:invalid value")
def test_filters_without_numbers_say_so_instead_of_claiming_to_be_sure() -> None:
    bank = LagBank(BankSettings(), 0.0, 295.0)
    bank.state[:] = np.nan
    with pytest.raises(FloatingPointError):
        bank.update(bank.gauge_row(0.0), 300.0, 0.01)
