"""Where each tree could be, with which heater setting, in which spell; and if not, why and by
how much."""
