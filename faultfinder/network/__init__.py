"""Electricity: what is read between two terminals, with faults as edits of the network."""
