"""Bad input, refused in one sentence that a person can act on."""


class Refusal(Exception):
    """Input that cannot be taken. Nothing was changed.

    where: file and line, or file and key, or the field of a request.
    problem: what was found there. allowed: what may stand there, "" where the problem says it.
    passing: the same may be taken later, so whoever starts programs by themselves should try again.
    """

    def __init__(self, where: str, problem: str, allowed: str = "", *, passing: bool = False) -> None:
        super().__init__(where, problem, allowed)
        self.where = where
        self.problem = problem
        self.allowed = allowed
        self.passing = passing

    def __str__(self) -> str:
        sentence = f"{self.where}: {self.problem}"
        return f"{sentence}; {self.allowed}" if self.allowed else sentence
