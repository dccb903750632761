"""From a job to its answer, and what that hangs on."""
