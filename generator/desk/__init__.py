"""The desk: units written and changed for the people who keep them, and told how they stand."""
