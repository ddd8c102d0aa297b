"""Finds the layout of unknown packets by physics; pure: bytes and times in, a proposal out."""

from feeds.finder.find import find
from feeds.finder.proposal import Found, Proposal
from feeds.finder.steps import STEPS, Step

__all__ = ["STEPS", "Found", "Proposal", "Step", "find"]
