"""Job files: a top end in TOML, its parts inline or by catalogue id, and what is to be found for it.

The format is written down in docs/job-files.md.
"""

from topend.job.reading import load_job, read_job
from topend.job.requests import CompareRequest, CorrectRequest, DesignRequest, FitRequest, Job, PackUsed, SwapRequest

__all__ = [
    "CompareRequest",
    "CorrectRequest",
    "DesignRequest",
    "FitRequest",
    "Job",
    "PackUsed",
    "SwapRequest",
    "load_job",
    "read_job",
]
