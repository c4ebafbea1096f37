"""What works on this machine, and how to mend what does not.

The parent looks at nothing itself that could hang or crash: each such look is a process of its own
with a time limit (`probe_process` runs them, `probes` is what they run). `findings` puts into words
what they saw; `sequence` is their order and the verdict.

Nothing here imports OpenCV or the pose network before its own process has shown that they load.
"""
