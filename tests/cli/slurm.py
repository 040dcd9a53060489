"""A cluster of one machine, for tests: Slurm with two tasks side by side, everything in a folder of its own."""

import getpass
import os
import shutil
import socket
import subprocess
import time

TOOLS = ("munged", "slurmctld", "slurmd", "sbatch", "squeue", "scontrol", "sinfo")

CONFIGURATION = """\
ClusterName=bench
SlurmctldHost={host}(127.0.0.1)
SlurmctldPort={port}
SlurmdPort={port_of_node}
SlurmUser={user}
SlurmdUser={user}
AuthType=auth/munge
AuthInfo=socket={folder}/munge.socket,cred_expire=5
StateSaveLocation={folder}/state
SlurmdSpoolDir={folder}/spool
SlurmctldPidFile={folder}/slurmctld.pid
SlurmdPidFile={folder}/slurmd.pid
SlurmctldLogFile={folder}/slurmctld.log
SlurmdLogFile={folder}/slurmd.log
ProctrackType=proctrack/pgid
TaskPlugin=task/none
SelectType=select/cons_tres
SelectTypeParameters=CR_CPU
SlurmdParameters=config_overrides
SwitchType=switch/none
MpiDefault=none
ReturnToService=2
KillWait=1
MinJobAge=300
SchedulerParameters=batch_sched_delay=0,sched_interval=1,sched_min_interval=0
NodeName={host} NodeAddr=127.0.0.1 CPUs=2 State=UNKNOWN
PartitionName=all Nodes={host} Default=YES MaxTime=INFINITE State=UP
"""


def lacking():
    """Programs that are not there; Slurm's daemons may stand where only an administrator looks."""
    os.environ["PATH"] += ":/usr/sbin:/sbin"
    return [name for name in TOOLS if shutil.which(name) is None]


def free_ports():
    held = [socket.socket() for _ in range(2)]
    for one in held:
        one.bind(("127.0.0.1", 0))
    ports = [one.getsockname()[1] for one in held]
    for one in held:
        one.close()
    return ports


class Cluster:
    def __init__(self, folder):
        self.folder = folder
        for name in ("state", "spool"):
            os.mkdir(os.path.join(folder, name))
        for path in (os.path.dirname(folder), folder):
            os.chmod(path, 0o755)  # munged wants its socket to be within reach, and no folder that others may write to
        key = os.path.join(folder, "munge.key")
        with open(os.open(key, os.O_CREAT | os.O_WRONLY, 0o400), "wb") as file:
            file.write(os.urandom(256))
        port, port_of_node = free_ports()
        with open(os.path.join(folder, "slurm.conf"), "w", encoding="ascii") as file:
            file.write(CONFIGURATION.format(host=socket.gethostname().split(".")[0], user=getpass.getuser(), port=port,
                                            port_of_node=port_of_node, folder=folder))
        self.environment = dict(os.environ, SLURM_CONF=os.path.join(folder, "slurm.conf"))
        self.run("munged", "--key-file=" + key, *["--%s=%s/munge.%s" % (what, folder, what.split("-")[0])
                                                  for what in ("socket", "pid-file", "log-file", "seed-file")])
        self.run("slurmctld")
        self.run("slurmd")
        self.until(lambda: self.run("sinfo", "--noheader", "--format=%t").strip() == "idle", "the node is up")

    def run(self, *words):
        return subprocess.run(words, env=self.environment, check=True, capture_output=True, text=True, timeout=60).stdout

    def until(self, holds, what, seconds=60):
        end = time.monotonic() + seconds
        while not holds():
            if time.monotonic() > end:
                raise AssertionError("not in time: " + what)
            time.sleep(0.1)

    def close(self):
        for name in ("slurmd", "slurmctld", "munge"):
            path = os.path.join(self.folder, name + ".pid")
            if os.path.exists(path):
                with open(path, encoding="ascii") as file:
                    subprocess.run(["kill", file.read().strip()], check=False, capture_output=True)
