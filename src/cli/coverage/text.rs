use crate::chart::{Lead, Role};
use crate::coverage::{CoverageReport, PassReport, Percents, RunReport, Singing};
use crate::text::list;

/// The widest line.
const WIDTH: usize = 79;

/// How long the bar of a full share is.
const BAR: usize = 20;

/// The report for people.
pub(super) fn text(report: &CoverageReport) -> String {
    let mut lines = vec![
        format!(
            "{}: {} in {}, {}, {} beats a minute",
            report.title, report.style, report.key, report.meter, report.tempo
        ),
        match names(&report.band) {
            band if band.is_empty() => "nobody is in the band".to_owned(),
            band => format!("in the band: {band}"),
        },
    ];
    let mut told: Vec<String> = Vec::new();
    for pass in &report.passes {
        lines.push(String::new());
        pass_lines(pass, report, &mut told, &mut lines);
    }
    lines.push(String::new());
    lines.push("the whole song".to_owned());
    shares(report.whole.covered, &[], report, &mut lines);
    let jobs: Vec<String> =
        report.whole.jobs.iter().map(|count| format!("{} {}", count.job, count.bars)).collect();
    lines.extend(wrapped(&format!("bars by what is left to you: {}", jobs.join(", ")), 2));
    if let Some(bars) = &report.bars {
        lines.push(String::new());
        let wide = bars.iter().map(|bar| bar.job.as_str().len()).max().unwrap_or(0);
        lines.push(format!(" bar  downbeats  backbeats  ands  {:<wide$}  singer  chords", "you"));
        for bar in bars {
            let singer = match bar.singing {
                Singing::Sings => "sings",
                Singing::Pauses => "pauses",
                Singing::Nobody => "",
            };
            let Percents { downbeats, backbeats, ands } = bar.covered;
            let line = format!(
                "{:>4} {downbeats:>8} % {backbeats:>8} % {ands:>3} %  {:<wide$}  {singer:<6}  {}",
                bar.number,
                bar.job.as_str(),
                bar.chords
            );
            lines.push(line.trim_end().to_owned());
        }
    }
    lines.join("\n") + "\n"
}

fn names(roles: &[Role]) -> String {
    let words: Vec<&str> = roles.iter().map(|role| role.as_str()).collect();
    if words.is_empty() { String::new() } else { list(&words, "and") }
}

fn pass_lines(
    pass: &PassReport,
    report: &CoverageReport,
    told: &mut Vec<String>,
    lines: &mut Vec<String>,
) {
    let bars = match bars(pass.bars) {
        bars if bars.is_empty() => String::new(),
        bars => format!(", {bars}"),
    };
    let plays = match names(&pass.plays) {
        who if who.is_empty() => "nobody plays".to_owned(),
        who if pass.plays.len() == 1 => format!("{who} plays"),
        who => format!("{who} play"),
    };
    let leads = pass.lead.and_then(Lead::drops);
    let open: Vec<Role> = pass.open.iter().copied().filter(|role| Some(*role) != leads).collect();
    let open = match names(&open) {
        open if open.is_empty() => String::new(),
        open => format!(" (open: {open})"),
    };
    lines.extend(wrapped(&format!("{}{bars}: {plays}{open}", pass.label), 0));
    shares(pass.covered, &pass.missing, report, lines);
    // What is said twice is said once, with all its bars.
    let mut said: Vec<(&RunReport, Vec<(usize, usize)>)> = Vec::new();
    for run in &pass.jobs {
        match said
            .iter_mut()
            .find(|(other, _)| other.say == run.say && other.because == run.because)
        {
            Some((_, all)) => all.push(run.bars),
            None => said.push((run, vec![run.bars])),
        }
    }
    for (run, all) in said {
        let whole = all.as_slice() == [pass.bars];
        let where_ = if whole { String::new() } else { ranges(&all) };
        let place = if where_.is_empty() { String::new() } else { format!("  ({where_})") };
        lines.extend(wrapped(&format!("{}{place}", run.say), 2));
        if !told.contains(&run.because) {
            told.push(run.because.clone());
            lines.extend(wrapped(&run.because, 6));
        }
    }
}

/// A line for each part of the beat.
fn shares(
    covered: Option<Percents>,
    missing: &[&str],
    report: &CoverageReport,
    lines: &mut Vec<String>,
) {
    let Some(Percents { downbeats, backbeats, ands }) = covered else { return };
    let beats = &report.beats;
    for (part, counted, percent) in [
        ("downbeats", beats.downbeats, downbeats),
        ("backbeats", beats.backbeats, backbeats),
        ("ands", beats.ands, ands),
    ] {
        let filled = (usize::from(percent) * BAR / 100).min(BAR);
        let bar = "#".repeat(filled) + &".".repeat(BAR - filled);
        let mark = match part {
            part if !missing.contains(&part) => "",
            "ands" => "  empty",
            _ => "  missing",
        };
        lines.push(format!("  {part:<9} {percent:>3} %  {bar}  {counted}{mark}"));
    }
}

fn bars((first, last): (usize, usize)) -> String {
    match (first, last) {
        (_, 0) => String::new(),
        (first, last) if first == last => format!("bar {first}"),
        (first, last) => format!("bars {first}-{last}"),
    }
}

fn ranges(all: &[(usize, usize)]) -> String {
    if let [one] = all {
        return bars(*one);
    }
    let each: Vec<String> = all
        .iter()
        .map(|(first, last)| match first == last {
            true => first.to_string(),
            false => format!("{first}-{last}"),
        })
        .collect();
    format!("bars {}", each.join(", "))
}

/// A text in lines, all but the first set in two further than `indent`.
fn wrapped(text: &str, indent: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = " ".repeat(indent);
    let mut empty = true;
    for word in text.split(' ') {
        let wide = line.chars().count() + usize::from(!empty) + word.chars().count();
        if wide > WIDTH && !empty {
            lines.push(std::mem::replace(&mut line, " ".repeat(indent + 2)));
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    lines.push(line);
    lines
}
