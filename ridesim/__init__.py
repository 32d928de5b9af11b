"""ridesim: gearing, performance and tuning figures for the rider who does their own wrenching."""
