"""A sound server of the test's own: PulseAudio with null sinks, in folders that go away, reached by PortAudio through
ALSA's pulse plugin."""
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time

ASOUNDRC = """
pcm.!default { type pulse }
ctl.!default { type pulse }
"""


class Server:
    def __init__(self, rate=48000, sample_format="float32le"):
        self.rate = rate
        self.keeper = None
        self.folder = tempfile.mkdtemp(prefix="hyoid-live-")
        for name in ("home", "run", "state"):
            os.mkdir(os.path.join(self.folder, name), 0o700)
        socket = os.path.join(self.folder, "run", "native")
        config = os.path.join(self.folder, "asoundrc")
        with open(config, "w") as out:
            out.write(ASOUNDRC)
        self.environment = dict(os.environ)
        for name in ("DISPLAY", "DBUS_SESSION_BUS_ADDRESS", "PULSE_COOKIE", "PULSE_SINK"):
            self.environment.pop(name, None)
        self.environment.update(
            HOME=os.path.join(self.folder, "home"),
            XDG_RUNTIME_DIR=os.path.join(self.folder, "run"),
            PULSE_RUNTIME_PATH=os.path.join(self.folder, "run"),
            PULSE_STATE_PATH=os.path.join(self.folder, "state"),
            PULSE_SERVER="unix:" + socket,
            ALSA_CONFIG_PATH="/usr/share/alsa/alsa.conf:" + config,
            DBUS_SESSION_BUS_ADDRESS="unix:path=/nonexistent",
            JACK_NO_START_SERVER="1")
        command = ["pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no",
                   "--log-target=stderr",
                   # what ends it on a loaded machine: a slip of its own in shared memory (an assertion when a client goes at
                   # a bad moment), and limits on its processor time
                   "--disable-shm=yes", "--realtime=no", "--high-priority=no", "--no-cpu-limit=yes",
                   "-L", "module-native-protocol-unix auth-anonymous=1 socket=" + socket,
                   "-L", "module-null-sink sink_name=test format=%s rate=%d channels=2" % (sample_format, rate)]
        self.log = open(os.path.join(self.folder, "server.log"), "w")
        environment = dict(self.environment)
        environment.pop("PULSE_SERVER")
        self.process = subprocess.Popen(command, env=environment, stdout=self.log, stderr=self.log,
                                        stdin=subprocess.DEVNULL)
        for _ in range(200):
            if self.process.poll() is not None:
                break
            if subprocess.run(["pactl", "list", "short", "sinks"], env=self.environment, capture_output=True,
                              check=False).stdout.startswith(b"0"):
                # an idle null sink works ahead by 2 s, and would keep the first sound waiting for so long
                self.keeper = self.recorder(20)
                os.read(self.keeper.stdout.fileno(), 4096)
                threading.Thread(target=self.drain_keeper, daemon=True).start()
                return
            time.sleep(0.05)
        text = open(self.log.name).read()
        self.close()
        raise RuntimeError("the sound server does not start:\n" + text)

    def drain_keeper(self):
        while os.read(self.keeper.stdout.fileno(), 65536):
            pass

    def recorder(self, latency_ms=100):
        """parec on the sink's monitor: raw 32-bit floats, one channel. A low latency makes the sink hurry, too."""
        return subprocess.Popen(["parec", "--device=test.monitor", "--format=float32le", "--rate=%d" % self.rate,
                                 "--channels=1", "--raw", "--latency-msec=%d" % latency_ms],
                                env=self.environment, stdout=subprocess.PIPE)

    def stop(self):
        if self.keeper is not None:
            self.keeper.terminate()
            self.keeper.wait()
        if self.process.poll() is not None:
            with open(self.log.name) as text:
                print("the sound server ended by itself with %s:\n%s" % (self.process.returncode, text.read()))
        else:
            self.process.send_signal(signal.SIGTERM)
            try:
                self.process.wait(10)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait()

    def close(self):
        self.stop()
        self.log.close()
        shutil.rmtree(self.folder, ignore_errors=True)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()


if __name__ == "__main__":  # server.py COMMAND...: runs it beside a server
    with Server() as server:
        sys.exit(subprocess.run(sys.argv[1:], env=server.environment, check=False).returncode)
