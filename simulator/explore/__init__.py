"""The local page on which one moves one thing at a time and sees what every wattmeter reads."""
