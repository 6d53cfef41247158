"""Pure functions of float arrays in SI: no models, no units, no I/O. One module a physical subject.

Each function takes floats or float64 arrays that broadcast, gives NaN in its own row for NaN and for what lies outside
its stated domain, and never raises for a value. `wiring` says which function gives each quantity from which.
"""
