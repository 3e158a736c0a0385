"""The measurement plan: what to take along to the site, on paper."""
