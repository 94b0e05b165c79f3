//! Whether the interval holds what it says: seeded markets that share no formula with the fit.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

use tangmark_measure::regression::huber;

/// A plain generator of whole numbers: SplitMix64, from memory.
struct Stream(u64);

impl Stream {
    fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^= mixed >> 31;
        (mixed >> 11) as f64 / 9_007_199_254_740_992.0
    }

    /// Sum of twelve even numbers: nearly normal, sd 1.
    fn bell(&mut self) -> f64 {
        (0..12).map(|_| self.even()).sum::<f64>() - 6.0
    }
}

struct Sale {
    row: Vec<f64>,
    log_price: f64,
}

/// A market: prices add up from steel by the millimetre, condition and a name, are multiplied by a level that wanders
/// from year to year, by what a buyer fancies, and now and then by something that no table holds.
fn market(stream: &mut Stream, sales: usize, odd_share: f64, wander: f64) -> Vec<Sale> {
    let mut level = vec![1.0_f64];
    for _ in 0..12 {
        let last = level[level.len() - 1];
        level.push(last * (1.02 + wander * stream.bell()));
    }
    let days: Vec<f64> = (0..sales).map(|_| 12.0 * stream.even()).collect();
    days.into_iter()
        .map(|day| {
            let length = 220.0 + 520.0 * stream.even();
            let condition = [0.0, 1.0, 2.0, 3.0, 4.0]
                .into_iter()
                .rfind(|step| *step <= 5.0 * stream.even())
                .unwrap_or(0.0);
            let signed = if stream.even() < 0.5 { 1.0 } else { 0.0 };
            let worth = (2.2 * length + 140.0) * (1.0 + 0.28 * condition) * (1.0 + 0.25 * signed);
            let year = [0_u8, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11]
                .into_iter()
                .rfind(|year| f64::from(*year) <= day)
                .unwrap_or(0);
            let mut price = worth * level[usize::from(year)] * (0.17 * stream.bell()).exp();
            if stream.even() < odd_share {
                price *= if stream.even() < 0.5 { 2.4 } else { 0.45 };
            }
            Sale {
                row: vec![1.0, (length / 600.0).ln(), condition, signed, day - 12.0],
                log_price: price.ln(),
            }
        })
        .collect()
}

#[test]
fn the_interval_covers_what_it_says() {
    let mut stream = Stream(20_260_601);
    let (mut all, mut all_held) = (0_u32, 0_u32);
    for (name, markets, sales, odd_share, wander) in [
        ("24 sales, calm", 12, 24, 0.0, 0.0),
        ("30 sales, drift and 5 % odd", 10, 30, 0.05, 0.03),
        ("40 sales, drift and 8 % odd", 8, 40, 0.08, 0.05),
        ("80 sales, drift and 5 % odd", 3, 80, 0.05, 0.05),
    ] {
        let (mut tried, mut held) = (0_u32, 0_u32);
        for _ in 0..markets {
            let market = market(&mut stream, sales, odd_share, wander);
            for out in 0..market.len() {
                let kept = || market.iter().enumerate().filter(|(index, _)| *index != out);
                let design: Vec<Vec<f64>> = kept().map(|(_, sale)| sale.row.clone()).collect();
                let response: Vec<f64> = kept().map(|(_, sale)| sale.log_price).collect();
                let interval = huber(&design, &response)
                    .unwrap()
                    .predict(&market[out].row, 0.95)
                    .unwrap();
                tried += 1;
                held += u32::from(interval.holds(market[out].log_price));
            }
        }
        let share = 100.0 * f64::from(held) / f64::from(tried);
        println!("{name}: {held} of {tried} left-out sales within, {share:.1} %");
        assert!((90.0..=98.5).contains(&share), "{name}: {share}");
        all += tried;
        all_held += held;
    }
    let share = 100.0 * f64::from(all_held) / f64::from(all);
    println!("all: {all_held} of {all}, {share:.1} %, nominal 95 %");
    assert!((90.0..=98.0).contains(&share), "{share}");
}
