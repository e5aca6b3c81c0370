"""Unwanted sounds: strings passed over by the hand, what rings on, and the gate."""
