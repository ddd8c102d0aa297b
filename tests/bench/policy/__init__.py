"""Guards the planner's policy: modelled pupils hear it, nobody, and one who says everything.

No evidence about people: what comes out is what the stated model (`pupil.py`) makes of it.
"""
