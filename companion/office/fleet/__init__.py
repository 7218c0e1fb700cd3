"""Many made jobs: invented mechanics work the shipped cards on a simulated clock, through the real core, without sound.

Some of them do something that a supervisor should find. Such a `plant` only changes what the mechanic says and does,
never the log, except where a damaged log is what is to be found. Everything follows from the seed and the job's number.

`depot` and `toolroom` are what is there, `editions` the cards, `plan` what each job is about, `road` the way through a
card, `mechanic` who works it, `plants` what goes wrong, `shift` the clock and the log, `making` one job as bytes."""
