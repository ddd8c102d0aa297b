"""What each window system needs beyond SDL: to stay on top, and to survive when it goes away."""
