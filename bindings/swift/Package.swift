// swift-tools-version:5.9
// The Swift package. `build-xcframework` makes the binary part on a Mac; the sources in Sources/
// are written by `bindings/generate swift` and checked to be up to date on every machine.
import PackageDescription

let package = Package(
    name: "Scupper",
    platforms: [.iOS(.v15), .macOS(.v12)],
    products: [
        .library(name: "Scupper", targets: ["Scupper"]),
    ],
    targets: [
        .binaryTarget(name: "ScupperFFI", path: "build/ScupperFFI.xcframework"),
        .target(name: "Scupper", dependencies: ["ScupperFFI"], path: "Sources/Scupper"),
        .testTarget(name: "ScupperTests", dependencies: ["Scupper"], path: "Tests/ScupperTests"),
    ]
)
