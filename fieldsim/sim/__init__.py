"""A run driven: motion, the drivetrain's noise, the plan made ready, Monte Carlo trials."""
