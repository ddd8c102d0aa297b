"""Names of a corner's marks, in the order in which a car comes to them (see `events.Mark`)."""

BRAKE, APEX, EXIT = MARKS = ("brake", "apex", "exit")

ACROSS = (APEX, EXIT)
"""Those that lie across the road."""

CALLED = {BRAKE: "brake point", APEX: "apex", EXIT: "exit"}
"""What a sentence calls them."""
