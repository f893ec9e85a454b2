"""Signs tried on facts, by durable-rules; nothing else in the program knows that library."""

from faultfinder.engine.engine import Engine, Firing
from faultfinder.engine.fault import BadFacts, BadSigns, EngineFault, EngineUnavailable

__all__ = ["BadFacts", "BadSigns", "Engine", "EngineFault", "EngineUnavailable", "Firing"]
