"""The documents that calib hands out: one module each, their keys fixed by contract."""
