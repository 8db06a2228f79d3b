"""The bench check, live: rest, each control in turn, the switches, then flex the harness."""
