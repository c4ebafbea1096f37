from tests.plan.run import plan

__all__ = ["plan"]
