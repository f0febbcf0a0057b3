"""What a shop's finished dossiers teach: lags, rates, windows, digits and serials, with intervals.

Pure: dossiers in, values out.  docs/learning.md has the equations.
"""
