from coach.screen.keys import CoachScreen


class StartScreen(CoachScreen): ...
