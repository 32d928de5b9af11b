"""How a bike moves: drivetrain, thrust, front-wheel lift, and the run through the gears."""
