"""Constants of nature. Exact since the SI of 2019 (CODATA 2018 and 2022 print the same digits)."""

FIRST_RADIATION_W_M2_SR = 1.191042972397188e-16
"""c1L = 2 h c^2 [W m^2 / sr]."""

SECOND_RADIATION_M_K = 0.014387768775039337
"""c2 = h c / k [m K]. Tables made before 1990 may rest on 0.014388."""

STEFAN_BOLTZMANN_W_M2_K4 = 5.6703744191844294e-8
"""sigma = 2 pi^5 k^4 / (15 h^3 c^2) [W / (m^2 K^4)]."""

WIEN_DISPLACEMENT_M_K = 2.897771955185173e-3
"""b of Wien's displacement law [m K]."""

ZERO_CELSIUS_K = 273.15
"""0 degrees Celsius [K], by definition."""
