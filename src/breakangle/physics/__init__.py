"""Pure functions of numbers and arrays, one file per phenomenon. Units: mm, N, MPa, g/m, Hz, cents, °C."""
