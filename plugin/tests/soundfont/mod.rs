//! A SoundFont of one sound, made byte by byte after the SoundFont technical
//! specification 2.04: two drum presets that play the same kick.

/// General MIDI Level 1, percussion key map: bass drum 1.
const KICK: u8 = 36;
const RATE_HZ: u32 = 48_000;

fn chunk(id: &[u8; 4], body: &[u8]) -> Vec<u8> {
    let mut out = id.to_vec();
    out.extend_from_slice(&(body.len() as u32).to_le_bytes());
    out.extend_from_slice(body);
    if body.len() % 2 == 1 {
        out.push(0);
    }
    out
}

fn list(id: &[u8; 4], chunks: &[Vec<u8>]) -> Vec<u8> {
    chunk(b"LIST", &[id.to_vec(), chunks.concat()].concat())
}

fn words(values: &[u16]) -> Vec<u8> {
    values.iter().flat_map(|v| v.to_le_bytes()).collect()
}

fn name(text: &str) -> Vec<u8> {
    let mut name = text.as_bytes().to_vec();
    name.resize(20, 0);
    name
}

/// The bytes of the file: presets 128:0 Room and 128:1 Hall.
pub fn bytes() -> Vec<u8> {
    let tone = |frame: u32| {
        let t = f64::from(frame) / f64::from(RATE_HZ);
        let x = 0.9 * (-40.0 * t).exp() * (std::f64::consts::TAU * 100.0 * t).sin();
        ((x * 32_767.0) as i16).to_le_bytes()
    };
    let mut wave: Vec<u8> = (0..6_000).flat_map(tone).collect();
    let end = (wave.len() / 2) as u32;
    // 46 frames of silence follow a sample (section 6.1).
    wave.resize(wave.len() + 92, 0);
    let mut sample = name("kick");
    for at in [0, end, 0, end, RATE_HZ] {
        sample.extend_from_slice(&at.to_le_bytes());
    }
    sample.extend([KICK, 0]);
    sample.extend(words(&[0, 1]));
    sample.extend(name("EOS"));
    sample.resize(sample.len() + 26, 0);
    let range = u16::from(KICK) * 0x101;
    let preset = |text: &str, program: u16, bag: u16| {
        let head = [name(text), words(&[program, 128, bag])].concat();
        [head, vec![0; 12]].concat()
    };
    let instrument = |text: &str, bag: u16| [name(text), words(&[bag])].concat();
    let presets = [
        preset("Room", 0, 0),
        preset("Hall", 1, 1),
        preset("EOP", 0, 2),
    ];
    let parameters = [
        chunk(b"phdr", &presets.concat()),
        chunk(b"pbag", &words(&[0, 0, 1, 0, 2, 0])),
        chunk(b"pmod", &[0; 10]),
        chunk(b"pgen", &words(&[41, 0, 41, 0, 0, 0])),
        chunk(
            b"inst",
            &[instrument("Kick", 0), instrument("EOI", 1)].concat(),
        ),
        chunk(b"ibag", &words(&[0, 0, 2, 0])),
        chunk(b"imod", &[0; 10]),
        chunk(b"igen", &words(&[43, range, 53, 0, 0, 0])),
        chunk(b"shdr", &sample),
    ];
    let information = [
        chunk(b"ifil", &words(&[2, 4])),
        chunk(b"isng", b"EMU8000\0"),
        chunk(b"INAM", b"Test\0"),
    ];
    let lists = [
        list(b"INFO", &information),
        list(b"sdta", &[chunk(b"smpl", &wave)]),
        list(b"pdta", &parameters),
    ];
    chunk(b"RIFF", &[b"sfbk".to_vec(), lists.concat()].concat())
}
