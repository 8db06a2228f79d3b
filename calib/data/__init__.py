"""Files that come with the package: drawings, the style of the report, firmware."""
