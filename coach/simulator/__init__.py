"""The simulated car: a physical model, its ECUs, and the adapter dialect they answer through. All of it invented."""
