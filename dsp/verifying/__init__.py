"""Does the finished guitar sound as proposed: strums in every position, compared with one another."""
