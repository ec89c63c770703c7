"""Makes a collection in shares on the workers of Dask, and joins them.

    pip install distributed
    python demo/shares/dask_shares.py demo/evening-class/plan.toml out/class 4

Dask hands the shares out, tries again where a worker dies, and balances the load; each
share is one run of `hitchwork collect --part I/N`, and the last step joins them. The folder
must be one that all workers see. The scheduler's address may be given as a fourth word;
without it, two worker processes are started on this machine.
"""

import os
import subprocess
import sys

from distributed import Client, LocalCluster, as_completed


def share(plan: str, out: str, number: int, of: int, hitchwork: str) -> int:
    """Makes one share; a share that was begun before picks up where it left off."""
    command = [hitchwork, "collect", plan, "--out", out, "--part", f"{number}/{of}", "--workers", "1", "--quiet"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    # 1 says that members failed, which the joined collection lists; 2 that nothing worked.
    if done.returncode not in (0, 1):
        raise RuntimeError(done.stderr)
    return number


def main(plan: str, out: str, of: int, scheduler: str | None, hitchwork: str) -> int:
    cluster = None if scheduler else LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None, host="127.0.0.1")
    with Client(scheduler or cluster) as client:
        shares = [client.submit(share, plan, out, number, of, hitchwork, pure=False) for number in range(1, of + 1)]
        for done in as_completed(shares):
            print(f"share {done.result()} of {of} is made", file=sys.stderr)
    if cluster:
        cluster.close()
    return subprocess.run([hitchwork, "collect", plan, "--out", out, "--merge", out, "--quiet"], check=False).returncode


if __name__ == "__main__":
    words = sys.argv[1:]
    if len(words) < 3:
        sys.exit(__doc__)
    scheduler_address = words[3] if len(words) > 3 else None
    sys.exit(main(words[0], words[1], int(words[2]), scheduler_address, os.environ.get("HITCHWORK", "hitchwork")))
