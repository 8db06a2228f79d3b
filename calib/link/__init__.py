"""The serial line: ports, transports, layouts, recorder; the only place that imports pyserial."""
