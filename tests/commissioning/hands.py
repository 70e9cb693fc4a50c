"""The simulated person: hands and eyes in a simulated chamber."""

from collections.abc import Callable

from lampwarden.bench.dialogue import Question
from lampwarden.rig.world import World


class Hands:
    """Does what it is asked to in the simulated chamber, and says what it sees there. `spoilt` overrules answers."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.spoilt: dict[str, Callable[[], str | None]] = {}
        self.asked: list[str] = []
        self.told: list[str] = []
        self._next: str | None = None

    def tell(self, text: str) -> None:
        self.told.append(text)

    def ask(self, question: Question) -> None:
        self.asked.append(question.text)
        self.world.plant.extra_plate_w[:] = 0.0
        for key, deed in self.spoilt.items():
            if key in question.text:
                self._next = deed()
                return
        self._next = self._do(question.text)

    def answer(self) -> str | None:
        return self._next

    def _do(self, text: str) -> str | None:
        world = self.world
        if "EYES" in text:
            return "r"
        if "Breathe" in text:
            world.plant.vapour_hpa *= 1.3
        elif "Hold the sensor of bank" in text:
            world.plant.extra_plate_w[int(text.split("bank ")[1].split()[0]) - 1] = 4.0
        elif "pen the door" in text:
            world.door(True)
        elif "Close the door." in text:
            world.door(False)
        elif "Press the stop" in text:
            world.press_stop(True)
        elif "Release the stop" in text:
            world.press_stop(False)
        elif "One zone glows" in text:
            lit = [n for n, level in enumerate(world.truth.zone_permille) if level]
            return str(lit[0] + 1) if len(lit) == 1 else "n"
        elif "white bank glow" in text:
            return "y" if world.truth.inspection_permille and not any(world.truth.zone_permille) else "n"
        elif "is the chamber dark" in text:
            return "y" if world.truth.dark else "n"
        elif "will be stopped while" in text or "will be silent" in text:
            return "r"
        elif text.startswith("What now?"):
            return "g"
        elif "Notes" in text:
            return "none of this is real"
        elif "Your name" in text:
            return "A. Tester"
        else:
            return "y"
        return None
