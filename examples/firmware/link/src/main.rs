//! The host's end of the serial link: `firmware-link SOCKET`, the Unix socket of the board's serial
//! port. Runs the scripted pool for an hour, one frame a tick, in lock-step. The same controller runs
//! here, and outputs and vetoes have to be the same in every tick. Then: a frame with a wrong bit gets
//! no answer, and a host that falls silent in mid-dose leaves no output on.
//!
//! Exit: 0 if all of it held, 1 if not, 2 without a socket.

use std::convert::Infallible;
use std::io::{Read, Write};
use std::os::unix::net::UnixStream;
use std::process::ExitCode;
use std::rc::Rc;
use std::time::{Duration, Instant};
use std::{cell::Cell, io};

use embedded_hal::digital::{ErrorType, OutputPin};
use firmware_common::keeper::Keeper;
use firmware_common::link::{ANSWER_LEN, Answer, Kind, Request, STEPS_A_TICK};
use firmware_common::nor::{self, BYTES, KEPT_PAGE, MemoryNor};
use firmware_common::records::Records;
use firmware_common::site::{CARE, TICK_MS, regulators};
use firmware_common::unit::{Lines, OutputPins, Unit};
use firmware_common::world::{Levels, Script, World};

const TICKS: u32 = 3600;
/// How long the emulator may take to come up, or a board to answer.
const PATIENCE: Duration = Duration::from_secs(20);
/// Longer than the board waits for a host.
const SILENCE: Duration = Duration::from_secs(3);

type Failure = Box<dyn std::error::Error>;

fn main() -> ExitCode {
    let Some(path) = std::env::args().nth(1) else {
        eprintln!("firmware-link SOCKET");
        return ExitCode::from(2);
    };
    match whole(&path) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            println!("link: {failure}");
            ExitCode::FAILURE
        }
    }
}

fn whole(path: &str) -> Result<(), Failure> {
    let mut board = Board::find(path)?;
    let mut here = Here::start()?;
    let mut world = World::new(Script::NewUnit);
    let (mut fed, started) = (0_u32, Instant::now());
    for _ in 0..TICKS {
        fed = fed.saturating_add(u32::from(tick(&mut board, &mut here, &mut world)?));
    }
    println!("link: {TICKS} ticks, the board's outputs and vetoes as here in each");
    println!("link: fed in {fed} of them");
    let rate = f64::from(TICKS) / started.elapsed().as_secs_f64();
    eprintln!("link: {rate:.0} ticks a second");
    torn_frame(&mut board, &world)?;
    println!("link: a frame with a wrong bit gets no answer");
    silence(&mut board, &mut here, &mut world)?;
    println!("link: a host that falls silent in mid-dose leaves no output on");
    board.ask(&request(Kind::End, &world))?;
    Ok(())
}

/// One tick on both. Whether something was fed.
fn tick(board: &mut Board, here: &mut Here, world: &mut World) -> Result<bool, Failure> {
    world.pass(TICK_MS, here.levels());
    world.tick();
    let request = request(Kind::Tick, world);
    let answer = board.ask(&request)?;
    let expected = here.tick(&request);
    if answer != expected {
        return Err(format!("board {answer:?}\n      here {expected:?}").into());
    }
    Ok(answer.levels.master)
}

fn request(kind: Kind, world: &World) -> Request {
    let probes = world.probes();
    // The script's two acts, by their times.
    let begins = world.person().is_some();
    let first = begins && world.now_ms().is_multiple_of(20_000);
    Request {
        kind,
        now_ms: world.now_ms(),
        flow: world.flow(),
        pump: world.pump(),
        initialise: first,
        full_stage: begins && !first,
        ph: u16::try_from(probes.ph.value.0).unwrap_or(0),
        orp: u16::try_from(probes.orp.value.0).unwrap_or(0),
    }
}

fn torn_frame(board: &mut Board, world: &World) -> Result<(), Failure> {
    let look = request(Kind::Look, world);
    let mut frame = look.encode();
    if let Some(byte) = frame.get_mut(4) {
        *byte ^= 0x10;
    }
    board.send(&frame)?;
    if board.hear(Duration::from_millis(300))?.is_some() {
        return Err("a frame with a wrong bit was answered".into());
    }
    // The next whole one is.
    board.ask(&look).map(|_| ())
}

/// Ticks until a pump runs, then says nothing.
fn silence(board: &mut Board, here: &mut Here, world: &mut World) -> Result<(), Failure> {
    let fed = (0..TICKS).find_map(|_| {
        tick(board, here, world)
            .map(|fed| fed.then_some(()))
            .transpose()
    });
    fed.ok_or("nothing was fed any more")??;
    let look = request(Kind::Look, world);
    let on = board.ask(&look)?.levels;
    std::thread::sleep(SILENCE);
    let then = board.ask(&look)?.levels;
    if on == Levels::OFF || then != Levels::OFF {
        return Err(format!("outputs were {on:?}, after the silence {then:?}").into());
    }
    Ok(())
}

/// The board's serial port.
struct Board(UnixStream);

impl Board {
    /// The emulator makes the socket; it may take a while.
    fn find(path: &str) -> Result<Self, Failure> {
        let started = Instant::now();
        loop {
            match UnixStream::connect(path) {
                Ok(stream) => return Ok(Self(stream)),
                Err(error) if started.elapsed() > PATIENCE => {
                    return Err(format!("{path}: {error}").into());
                }
                Err(_) => std::thread::sleep(Duration::from_millis(50)),
            }
        }
    }

    fn send(&mut self, bytes: &[u8]) -> Result<(), Failure> {
        Ok(self.0.write_all(bytes)?)
    }

    fn ask(&mut self, request: &Request) -> Result<Answer, Failure> {
        self.send(&request.encode())?;
        let heard = self.hear(PATIENCE)?;
        Ok(heard.ok_or("the board does not answer")?)
    }

    fn hear(&mut self, within: Duration) -> Result<Option<Answer>, Failure> {
        self.0.set_read_timeout(Some(within))?;
        let mut frame = [0; ANSWER_LEN];
        match self.0.read_exact(&mut frame) {
            Ok(()) => Ok(Some(Answer::decode(&frame).ok_or("a torn answer")?)),
            Err(error)
                if matches!(
                    error.kind(),
                    io::ErrorKind::WouldBlock | io::ErrorKind::TimedOut
                ) =>
            {
                Ok(None)
            }
            Err(error) => Err(error.into()),
        }
    }
}

/// A pin that only remembers.
#[derive(Clone, Default)]
struct Pin(Rc<Cell<bool>>);

impl ErrorType for Pin {
    type Error = Infallible;
}

impl OutputPin for Pin {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.0.set(false);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.0.set(true);
        Ok(())
    }
}

/// The same controller on the host.
struct Here {
    unit: Unit<'static, Pin, MemoryNor, MemoryNor<KEPT_PAGE>>,
    pins: [Pin; 3],
}

impl Here {
    fn start() -> Result<Self, Failure> {
        let pins: [Pin; 3] = Default::default();
        let [acid, chlorine, master] = pins.clone();
        let flash = nor::flash(Box::leak(Box::new([0; BYTES])), &mut 0);
        let outputs = OutputPins {
            acid,
            chlorine,
            master,
        };
        let lines = Lines::off(outputs);
        let regulators = regulators().map_err(|error| format!("{error:?}"))?;
        let records = Box::leak(Box::new(Records::new(flash.records)));
        let keeper = Box::leak(Box::new(Keeper::new(flash.kept, 0)));
        let fits = records.fit().and_then(|()| keeper.fit());
        fits.map_err(|error| format!("{error:?}"))?;
        let restored = Box::leak(Box::new(records.restore(regulators)));
        restored.0.set_care(CARE);
        let unit = Unit::new(lines, restored, records, keeper);
        Ok(Self { unit, pins })
    }

    fn levels(&self) -> Levels {
        let [acid, chlorine, master] = self.pins.each_ref().map(|pin| pin.0.get());
        Levels {
            acid,
            chlorine,
            master,
        }
    }

    fn tick(&mut self, request: &Request) -> Answer {
        self.unit.tick(
            request.now_ms,
            request.witnesses(),
            request.probes(),
            request.person(),
        );
        for _ in 0..STEPS_A_TICK {
            self.unit.keep();
        }
        Answer {
            kind: request.kind,
            now_ms: request.now_ms,
            levels: self.levels(),
            vetoes: self.unit.vetoes(),
        }
    }
}
