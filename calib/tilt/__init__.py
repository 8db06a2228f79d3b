"""Tilt sensors: gravity vector, level zero, signs, surge, noise, truing. Pure arithmetic.

Vehicle axes are ISO 8855: x forward, y left, z up. A force is a specific force in g: a sensor at
rest on a level machine reads (0, 0, +1).
"""
