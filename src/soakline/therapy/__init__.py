"""How it runs: the cycle of a therapy unit, and when canister and bag are due."""
