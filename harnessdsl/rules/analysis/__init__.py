"""Facts that several rules need, each worked out once: nets, switch states, supply, loads."""
