"""Design of a trial: places by lot, ladders of dose, missing controls, what replicates can show. Pure."""
