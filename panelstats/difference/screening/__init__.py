"""Sequential screening of trainees."""
