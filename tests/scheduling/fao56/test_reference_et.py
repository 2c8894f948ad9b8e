"""What drives evapotranspiration, by equation 6."""

from hypothesis import given
from hypothesis import strategies as st

from scheduling.fao56.humidity import slope_of_saturation_curve
from scheduling.fao56.reference_et import penman_monteith, psychrometric_constant

temperatures_c = st.floats(-10.0, 40.0)
winds_m_s = st.floats(0.5, 10.0)
radiations_mj_m2 = st.floats(-5.0, 20.0)
deficits_kpa = st.floats(0.0, 5.0)
psychrometrics_kpa_c = st.floats(60.0, 102.0).map(psychrometric_constant)


@given(temperatures_c, winds_m_s, psychrometrics_kpa_c, radiations_mj_m2, st.floats(0.01, 10.0), deficits_kpa)
def test_more_radiation_evaporates_more(
    t_mean_c: float,
    wind_2m_m_s: float,
    psychrometric_kpa_c: float,
    net_mj_m2: float,
    more_mj_m2: float,
    deficit_kpa: float,
) -> None:
    slope = slope_of_saturation_curve(t_mean_c)
    less = penman_monteith(t_mean_c, wind_2m_m_s, slope, psychrometric_kpa_c, net_mj_m2, deficit_kpa)
    more = penman_monteith(
        t_mean_c, wind_2m_m_s, slope, psychrometric_kpa_c, net_mj_m2 + more_mj_m2, deficit_kpa
    )
    assert more > less
    # Never more than the radiation could evaporate by itself: 0.408 mm for each MJ.
    assert more - less < 0.408 * more_mj_m2


@given(temperatures_c, winds_m_s, psychrometrics_kpa_c, radiations_mj_m2, deficits_kpa, st.floats(0.01, 2.0))
def test_drier_air_evaporates_more(
    t_mean_c: float,
    wind_2m_m_s: float,
    psychrometric_kpa_c: float,
    net_mj_m2: float,
    deficit_kpa: float,
    drier_kpa: float,
) -> None:
    slope = slope_of_saturation_curve(t_mean_c)
    moist = penman_monteith(t_mean_c, wind_2m_m_s, slope, psychrometric_kpa_c, net_mj_m2, deficit_kpa)
    dry = penman_monteith(
        t_mean_c, wind_2m_m_s, slope, psychrometric_kpa_c, net_mj_m2, deficit_kpa + drier_kpa
    )
    assert dry > moist


def test_heat_into_the_soil_is_not_there_to_evaporate() -> None:
    warming = penman_monteith(20.0, 2.0, 0.145, 0.067, 15.0, 1.0, soil_heat_mj_m2=1.0)
    assert warming == penman_monteith(20.0, 2.0, 0.145, 0.067, 14.0, 1.0)


def test_the_equation_itself_may_fall_below_zero() -> None:
    assert penman_monteith(0.0, 0.5, slope_of_saturation_curve(0.0), 0.067, -3.0, 0.0) < 0.0
