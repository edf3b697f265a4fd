"""Questions of the page about the board that is shown."""

from sigsim.live.questions.gaps import gaps as gaps
from sigsim.live.questions.losses import CancelledError as CancelledError
from sigsim.live.questions.worth import worth as worth
