"""Tables of FAO-56 Annex 2: every printed row, to half a unit of its last printed digit."""

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from scheduling.fao56.humidity import saturation_vapour_pressure, slope_of_saturation_curve
from scheduling.fao56.radiation import black_body_radiation
from scheduling.fao56.reference_et import atmospheric_pressure, psychrometric_constant, wind_at_2m

HERE = Path(__file__).parent


def printed_rows(name: str) -> list[tuple[str, str]]:
    with (HERE / name).open(encoding="utf-8") as file:
        lines = [line for line in file if not line.startswith("#")]
    return [(given, printed) for given, printed in list(csv.reader(lines))[1:]]


@pytest.mark.parametrize(
    ("name", "rows", "equation"),
    [
        ("fao56_table_2_1_pressure.csv", 81, atmospheric_pressure),
        (
            "fao56_table_2_2_psychrometric_constant.csv",
            41,
            lambda elevation_m: psychrometric_constant(atmospheric_pressure(elevation_m)),
        ),
        ("fao56_table_2_3_saturation_vapour_pressure.csv", 96, saturation_vapour_pressure),
        ("fao56_table_2_4_slope.csv", 96, slope_of_saturation_curve),
        ("fao56_table_2_8_black_body_radiation.csv", 96, black_body_radiation),
        ("fao56_table_2_9_wind_factor.csv", 35, lambda height_m: wind_at_2m(1.0, height_m)),
    ],
)
def test_every_row_of_the_table_is_what_fao56_prints(
    name: str, rows: int, equation: Callable[[float], float]
) -> None:
    table = printed_rows(name)
    differing = []
    for given, printed in table:
        half_a_unit = 0.5 * 10.0 ** -len(printed.partition(".")[2])
        if abs(equation(float(given)) - float(printed)) > half_a_unit + 1e-9:
            differing.append((given, printed, equation(float(given))))

    assert differing == []
    assert len(table) == rows
