"""Exit codes, in one place.

0  ready, or done
1  not ready: by the rule as it was read in its source, or by every known reading of it
2  usage
3  could not tell
4  no connection
5  not inspected there: the rule that was named is not for this car, so it has no verdict

5 is neither 0 nor 1: a script that waits for "ready" does not take an exempt car for one, one that waits for "not
ready" does not send it on a drive, and 3 would say that another read-out may help. It is also said where the place
tests such a car in another way, and where that is only second hand or from memory: --json tells them apart (`exempt`,
`unverified`).
"""

DONE, NOT_READY, USAGE, COULD_NOT_TELL, NO_CONNECTION, NOT_INSPECTED = 0, 1, 2, 3, 4, 5
