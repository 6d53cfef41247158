"""Studies: variants of a top end as columns; one file for each subject of theirs."""

from topend.study.studies import Study as Study

__all__ = ["Study"]
