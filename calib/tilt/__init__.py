"""The tilt sensor: gravity vector, zero, turned method, signs, surge."""
