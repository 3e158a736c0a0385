"""Practice sheets: seeded problems, keys that know the usual slips, and marking."""
