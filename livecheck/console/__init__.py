"""What the player sees: the live screen, plain lines and the summary. Draws what a session found;
judges nothing."""
