"""How a bed is built: its section, the ground to dig and fill, and checks of what was raked."""
