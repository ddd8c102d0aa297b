"""The playbook as a file: read, checked, laid over the default. What it means is `coach.planner.playbook`."""
