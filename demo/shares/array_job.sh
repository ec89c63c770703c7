#!/usr/bin/env bash
# One share of a collection for each task of an array job of a batch scheduler.
#
#   sbatch --array=1-8 demo/shares/array_job.sh demo/evening-class/plan.toml /shared/class
#   hitchwork collect demo/evening-class/plan.toml --out /shared/class --merge /shared/class
#
# The scheduler tells each task its number and how many there are. A task that is tried again
# picks up where it left off. Where a scheduler says it by other names, set TASK and TASKS.
set -euo pipefail
plan=$1 out=$2
task=${TASK:-${SLURM_ARRAY_TASK_ID:?the scheduler names no task; set TASK}}
tasks=${TASKS:-${SLURM_ARRAY_TASK_COUNT:?the scheduler does not say how many tasks there are; set TASKS}}
status=0
"${HITCHWORK:-hitchwork}" collect "$plan" --out "$out" --part "$task/$tasks" --quiet || status=$?
# 1 says that members failed, which the joined collection lists; 2 that nothing worked.
[ "$status" -le 1 ]
