//! Filled icons drawn by others (crate `icondata_hi`), against an oracle of other hands all the way: `usvg` reads the
//! file and turns arcs into curves, curves are sampled here, and `clipper2-rust` fills and measures.
//!
//! `usvg` works in f32 and draws a quarter circle by one cubic, up to 2.7e-4 of the radius off (textbook), so areas are
//! compared within a thousandth of a unit of the icon's 24 times the length of the edge; what is measured is well below.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use clipper2_rust::{FillRule as Rule, Point, union_subjects_d};
use drawing::{EVERYTHING, ReadOptions, read};
use usvg::tiny_skia_path::PathSegment;

macro_rules! icons {
    ($($name:ident),* $(,)?) => { [$((stringify!($name), icondata_hi::$name.view_box, icondata_hi::$name.data)),*] };
}

/// The icon as a file of 24 x 24 mm.
fn file(view_box: Option<&str>, data: &str) -> String {
    format!(
        "<svg xmlns='http://www.w3.org/2000/svg' width='24mm' height='24mm' viewBox='{}' fill='black'>{}</svg>",
        view_box.unwrap(),
        data
    )
}

/// Area by the oracle, mm².
fn oracle(text: &str) -> f64 {
    let tree = usvg::Tree::from_str(text, &usvg::Options::default()).unwrap();
    // The oracle's px are 96 to the inch.
    let mm = 25.4 / 96.0;
    let mut filled = Vec::new();
    collect(tree.root(), &mut filled);
    union_subjects_d(&filled, Rule::NonZero, 6).iter().map(clipper2_rust::area).sum::<f64>() * mm * mm
}

fn collect(group: &usvg::Group, filled: &mut Vec<Vec<Point<f64>>>) {
    for node in group.children() {
        match node {
            usvg::Node::Group(group) => collect(group, filled),
            usvg::Node::Path(path) => {
                let Some(fill) = path.fill() else { continue };
                let rule = match fill.rule() {
                    usvg::FillRule::NonZero => Rule::NonZero,
                    usvg::FillRule::EvenOdd => Rule::EvenOdd,
                };
                let data = path.data().clone().transform(path.abs_transform()).unwrap();
                filled.extend(union_subjects_d(&rings(&data), rule, 6));
            }
            _ => {}
        }
    }
}

fn rings(path: &usvg::tiny_skia_path::Path) -> Vec<Vec<Point<f64>>> {
    let point = |x: f32, y: f32| (f64::from(x), f64::from(y));
    let mut rings: Vec<Vec<Point<f64>>> = Vec::new();
    let mut at = (0.0, 0.0);
    for segment in path.segments() {
        let controls = match segment {
            PathSegment::MoveTo(p) => {
                rings.push(Vec::new());
                vec![point(p.x, p.y)]
            }
            PathSegment::LineTo(p) => vec![point(p.x, p.y)],
            PathSegment::QuadTo(a, p) => vec![at, point(a.x, a.y), point(p.x, p.y)],
            PathSegment::CubicTo(a, b, p) => vec![at, point(a.x, a.y), point(b.x, b.y), point(p.x, p.y)],
            PathSegment::Close => continue,
        };
        let steps = if controls.len() > 1 { 200 } else { 1 };
        for i in 1..=steps {
            let p = casteljau(&controls, f64::from(i) / f64::from(steps));
            rings.last_mut().unwrap().push(Point { x: p.0, y: p.1 });
        }
        at = *controls.last().unwrap();
    }
    rings
}

fn casteljau(controls: &[(f64, f64)], t: f64) -> (f64, f64) {
    let mut points = controls.to_vec();
    while points.len() > 1 {
        points = points.windows(2).map(|w| (w[0].0 + (w[1].0 - w[0].0) * t, w[0].1 + (w[1].1 - w[0].1) * t)).collect();
    }
    points[0]
}

#[test]
fn icons_have_the_areas_of_the_oracle() {
    let icons = icons();
    assert!(icons.len() >= 300);
    let mut worst = 0.0_f64;
    let mut wrong = Vec::new();
    for (name, view_box, data) in &icons {
        let text = file(*view_box, data);
        let drawing = read(name, text.as_bytes(), &ReadOptions::default());
        assert!(!doubt::any_blocks(&drawing.doubts), "{name}: {:?}", drawing.doubts);
        let region = drawing.region(EVERYTHING).0;
        let (got, wanted) = (region.area(), oracle(&text));
        let off = (got - wanted).abs() / region.length();
        worst = worst.max(off);
        if off > 0.001 {
            wrong.push(format!("{name}: {got} mm², oracle {wanted}"));
        }
    }
    eprintln!("{} icons, greatest difference {worst:.2e} mm² per mm of edge", icons.len());
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Every filled icon of the large set.
fn icons() -> Vec<(&'static str, Option<&'static str>, &'static str)> {
    Vec::from(icons![
        HiAcademicCapSolidLg,
        HiAdjustmentsHorizontalSolidLg,
        HiAdjustmentsVerticalSolidLg,
        HiArchiveBoxArrowDownSolidLg,
        HiArchiveBoxSolidLg,
        HiArchiveBoxXMarkSolidLg,
        HiArrowDownCircleSolidLg,
        HiArrowDownLeftSolidLg,
        HiArrowDownOnSquareSolidLg,
        HiArrowDownOnSquareStackSolidLg,
        HiArrowDownRightSolidLg,
        HiArrowDownSolidLg,
        HiArrowDownTraySolidLg,
        HiArrowLeftCircleSolidLg,
        HiArrowLeftEndOnRectangleSolidLg,
        HiArrowLeftOnRectangleSolidLg,
        HiArrowLeftSolidLg,
        HiArrowLeftStartOnRectangleSolidLg,
        HiArrowLongDownSolidLg,
        HiArrowLongLeftSolidLg,
        HiArrowLongRightSolidLg,
        HiArrowLongUpSolidLg,
        HiArrowPathRoundedSquareSolidLg,
        HiArrowPathSolidLg,
        HiArrowRightCircleSolidLg,
        HiArrowRightEndOnRectangleSolidLg,
        HiArrowRightOnRectangleSolidLg,
        HiArrowRightSolidLg,
        HiArrowRightStartOnRectangleSolidLg,
        HiArrowSmallDownSolidLg,
        HiArrowSmallLeftSolidLg,
        HiArrowSmallRightSolidLg,
        HiArrowSmallUpSolidLg,
        HiArrowTopRightOnSquareSolidLg,
        HiArrowTrendingDownSolidLg,
        HiArrowTrendingUpSolidLg,
        HiArrowTurnDownLeftSolidLg,
        HiArrowTurnDownRightSolidLg,
        HiArrowTurnLeftDownSolidLg,
        HiArrowTurnLeftUpSolidLg,
        HiArrowTurnRightDownSolidLg,
        HiArrowTurnRightUpSolidLg,
        HiArrowTurnUpLeftSolidLg,
        HiArrowTurnUpRightSolidLg,
        HiArrowUpCircleSolidLg,
        HiArrowUpLeftSolidLg,
        HiArrowUpOnSquareSolidLg,
        HiArrowUpOnSquareStackSolidLg,
        HiArrowUpRightSolidLg,
        HiArrowUpSolidLg,
        HiArrowUpTraySolidLg,
        HiArrowUturnDownSolidLg,
        HiArrowUturnLeftSolidLg,
        HiArrowUturnRightSolidLg,
        HiArrowUturnUpSolidLg,
        HiArrowsPointingInSolidLg,
        HiArrowsPointingOutSolidLg,
        HiArrowsRightLeftSolidLg,
        HiArrowsUpDownSolidLg,
        HiAtSymbolSolidLg,
        HiBackspaceSolidLg,
        HiBackwardSolidLg,
        HiBanknotesSolidLg,
        HiBars2SolidLg,
        HiBars3BottomLeftSolidLg,
        HiBars3BottomRightSolidLg,
        HiBars3CenterLeftSolidLg,
        HiBars3SolidLg,
        HiBars4SolidLg,
        HiBarsArrowDownSolidLg,
        HiBarsArrowUpSolidLg,
        HiBattery0SolidLg,
        HiBattery100SolidLg,
        HiBattery50SolidLg,
        HiBeakerSolidLg,
        HiBellAlertSolidLg,
        HiBellSlashSolidLg,
        HiBellSnoozeSolidLg,
        HiBellSolidLg,
        HiBoldSolidLg,
        HiBoltSlashSolidLg,
        HiBoltSolidLg,
        HiBookOpenSolidLg,
        HiBookmarkSlashSolidLg,
        HiBookmarkSolidLg,
        HiBookmarkSquareSolidLg,
        HiBriefcaseSolidLg,
        HiBugAntSolidLg,
        HiBuildingLibrarySolidLg,
        HiBuildingOffice2SolidLg,
        HiBuildingOfficeSolidLg,
        HiBuildingStorefrontSolidLg,
        HiCakeSolidLg,
        HiCalculatorSolidLg,
        HiCalendarDateRangeSolidLg,
        HiCalendarDaysSolidLg,
        HiCalendarSolidLg,
        HiCameraSolidLg,
        HiChartBarSolidLg,
        HiChartBarSquareSolidLg,
        HiChartPieSolidLg,
        HiChatBubbleBottomCenterSolidLg,
        HiChatBubbleBottomCenterTextSolidLg,
        HiChatBubbleLeftEllipsisSolidLg,
        HiChatBubbleLeftRightSolidLg,
        HiChatBubbleLeftSolidLg,
        HiChatBubbleOvalLeftEllipsisSolidLg,
        HiChatBubbleOvalLeftSolidLg,
        HiCheckBadgeSolidLg,
        HiCheckCircleSolidLg,
        HiCheckSolidLg,
        HiChevronDoubleDownSolidLg,
        HiChevronDoubleLeftSolidLg,
        HiChevronDoubleRightSolidLg,
        HiChevronDoubleUpSolidLg,
        HiChevronDownSolidLg,
        HiChevronLeftSolidLg,
        HiChevronRightSolidLg,
        HiChevronUpDownSolidLg,
        HiChevronUpSolidLg,
        HiCircleStackSolidLg,
        HiClipboardDocumentCheckSolidLg,
        HiClipboardDocumentListSolidLg,
        HiClipboardDocumentSolidLg,
        HiClipboardSolidLg,
        HiClockSolidLg,
        HiCloudArrowDownSolidLg,
        HiCloudArrowUpSolidLg,
        HiCloudSolidLg,
        HiCodeBracketSolidLg,
        HiCodeBracketSquareSolidLg,
        HiCog6ToothSolidLg,
        HiCog8ToothSolidLg,
        HiCogSolidLg,
        HiCommandLineSolidLg,
        HiComputerDesktopSolidLg,
        HiCpuChipSolidLg,
        HiCreditCardSolidLg,
        HiCubeSolidLg,
        HiCubeTransparentSolidLg,
        HiCurrencyBangladeshiSolidLg,
        HiCurrencyDollarSolidLg,
        HiCurrencyEuroSolidLg,
        HiCurrencyPoundSolidLg,
        HiCurrencyRupeeSolidLg,
        HiCurrencyYenSolidLg,
        HiCursorArrowRaysSolidLg,
        HiCursorArrowRippleSolidLg,
        HiDevicePhoneMobileSolidLg,
        HiDeviceTabletSolidLg,
        HiDivideSolidLg,
        HiDocumentArrowDownSolidLg,
        HiDocumentArrowUpSolidLg,
        HiDocumentChartBarSolidLg,
        HiDocumentCheckSolidLg,
        HiDocumentCurrencyBangladeshiSolidLg,
        HiDocumentCurrencyDollarSolidLg,
        HiDocumentCurrencyEuroSolidLg,
        HiDocumentCurrencyPoundSolidLg,
        HiDocumentCurrencyRupeeSolidLg,
        HiDocumentCurrencyYenSolidLg,
        HiDocumentDuplicateSolidLg,
        HiDocumentMagnifyingGlassSolidLg,
        HiDocumentMinusSolidLg,
        HiDocumentPlusSolidLg,
        HiDocumentSolidLg,
        HiDocumentTextSolidLg,
        HiEllipsisHorizontalCircleSolidLg,
        HiEllipsisHorizontalSolidLg,
        HiEllipsisVerticalSolidLg,
        HiEnvelopeOpenSolidLg,
        HiEnvelopeSolidLg,
        HiEqualsSolidLg,
        HiExclamationCircleSolidLg,
        HiExclamationTriangleSolidLg,
        HiEyeDropperSolidLg,
        HiEyeSlashSolidLg,
        HiEyeSolidLg,
        HiFaceFrownSolidLg,
        HiFaceSmileSolidLg,
        HiFilmSolidLg,
        HiFingerPrintSolidLg,
        HiFireSolidLg,
        HiFlagSolidLg,
        HiFolderArrowDownSolidLg,
        HiFolderMinusSolidLg,
        HiFolderOpenSolidLg,
        HiFolderPlusSolidLg,
        HiFolderSolidLg,
        HiForwardSolidLg,
        HiFunnelSolidLg,
        HiGifSolidLg,
        HiGiftSolidLg,
        HiGiftTopSolidLg,
        HiGlobeAltSolidLg,
        HiGlobeAmericasSolidLg,
        HiGlobeAsiaAustraliaSolidLg,
        HiGlobeEuropeAfricaSolidLg,
        HiH1SolidLg,
        HiH2SolidLg,
        HiH3SolidLg,
        HiHandRaisedSolidLg,
        HiHandThumbDownSolidLg,
        HiHandThumbUpSolidLg,
        HiHashtagSolidLg,
        HiHeartSolidLg,
        HiHomeModernSolidLg,
        HiHomeSolidLg,
        HiIdentificationSolidLg,
        HiInboxArrowDownSolidLg,
        HiInboxSolidLg,
        HiInboxStackSolidLg,
        HiInformationCircleSolidLg,
        HiItalicSolidLg,
        HiKeySolidLg,
        HiLanguageSolidLg,
        HiLifebuoySolidLg,
        HiLightBulbSolidLg,
        HiLinkSlashSolidLg,
        HiLinkSolidLg,
        HiListBulletSolidLg,
        HiLockClosedSolidLg,
        HiLockOpenSolidLg,
        HiMagnifyingGlassCircleSolidLg,
        HiMagnifyingGlassMinusSolidLg,
        HiMagnifyingGlassPlusSolidLg,
        HiMagnifyingGlassSolidLg,
        HiMapPinSolidLg,
        HiMapSolidLg,
        HiMegaphoneSolidLg,
        HiMicrophoneSolidLg,
        HiMinusCircleSolidLg,
        HiMinusSmallSolidLg,
        HiMinusSolidLg,
        HiMoonSolidLg,
        HiMusicalNoteSolidLg,
        HiNewspaperSolidLg,
        HiNoSymbolSolidLg,
        HiNumberedListSolidLg,
        HiPaintBrushSolidLg,
        HiPaperAirplaneSolidLg,
        HiPaperClipSolidLg,
        HiPauseCircleSolidLg,
        HiPauseSolidLg,
        HiPencilSolidLg,
        HiPencilSquareSolidLg,
        HiPercentBadgeSolidLg,
        HiPhoneArrowDownLeftSolidLg,
        HiPhoneArrowUpRightSolidLg,
        HiPhoneSolidLg,
        HiPhoneXMarkSolidLg,
        HiPhotoSolidLg,
        HiPlayCircleSolidLg,
        HiPlayPauseSolidLg,
        HiPlaySolidLg,
        HiPlusCircleSolidLg,
        HiPlusSmallSolidLg,
        HiPlusSolidLg,
        HiPowerSolidLg,
        HiPresentationChartBarSolidLg,
        HiPresentationChartLineSolidLg,
        HiPrinterSolidLg,
        HiPuzzlePieceSolidLg,
        HiQrCodeSolidLg,
        HiQuestionMarkCircleSolidLg,
        HiQueueListSolidLg,
        HiRadioSolidLg,
        HiReceiptPercentSolidLg,
        HiReceiptRefundSolidLg,
        HiRectangleGroupSolidLg,
        HiRectangleStackSolidLg,
        HiRocketLaunchSolidLg,
        HiRssSolidLg,
        HiScaleSolidLg,
        HiScissorsSolidLg,
        HiServerSolidLg,
        HiServerStackSolidLg,
        HiShareSolidLg,
        HiShieldCheckSolidLg,
        HiShieldExclamationSolidLg,
        HiShoppingBagSolidLg,
        HiShoppingCartSolidLg,
        HiSignalSlashSolidLg,
        HiSignalSolidLg,
        HiSlashSolidLg,
        HiSparklesSolidLg,
        HiSpeakerWaveSolidLg,
        HiSpeakerXMarkSolidLg,
        HiSquare2StackSolidLg,
        HiSquare3Stack3dSolidLg,
        HiSquares2x2SolidLg,
        HiSquaresPlusSolidLg,
        HiStarSolidLg,
        HiStopCircleSolidLg,
        HiStopSolidLg,
        HiStrikethroughSolidLg,
        HiSunSolidLg,
        HiSwatchSolidLg,
        HiTableCellsSolidLg,
        HiTagSolidLg,
        HiTicketSolidLg,
        HiTrashSolidLg,
        HiTrophySolidLg,
        HiTruckSolidLg,
        HiTvSolidLg,
        HiUnderlineSolidLg,
        HiUserCircleSolidLg,
        HiUserGroupSolidLg,
        HiUserMinusSolidLg,
        HiUserPlusSolidLg,
        HiUserSolidLg,
        HiUsersSolidLg,
        HiVariableSolidLg,
        HiVideoCameraSlashSolidLg,
        HiVideoCameraSolidLg,
        HiViewColumnsSolidLg,
        HiViewfinderCircleSolidLg,
        HiWalletSolidLg,
        HiWifiSolidLg,
        HiWindowSolidLg,
        HiWrenchScrewdriverSolidLg,
        HiWrenchSolidLg,
        HiXCircleSolidLg,
        HiXMarkSolidLg
    ])
}
