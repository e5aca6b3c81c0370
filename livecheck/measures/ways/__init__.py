"""Ways of playing that come and go between repetitions, found without being told."""
