// The phone's camera. Its own file goes to the survey as it is, with all that the camera wrote into it.
// NOT BUILT where this was written: it needs a Mac.
import AVFoundation
import Scupper
import SwiftUI

struct Camera: UIViewControllerRepresentable {
    let about: String?
    @Environment(\.dismiss) private var dismiss

    func makeUIViewController(context: Context) -> Shutter { Shutter(about: about, done: { dismiss() }) }
    func updateUIViewController(_ shutter: Shutter, context: Context) {}
}

final class Shutter: UIViewController, AVCapturePhotoCaptureDelegate {
    private let about: String?
    private let done: () -> Void
    private let session = AVCaptureSession()
    private let output = AVCapturePhotoOutput()
    private let queue = DispatchQueue(label: "scupper.camera")
    private lazy var seen = AVCaptureVideoPreviewLayer(session: session)

    init(about: String?, done: @escaping () -> Void) {
        self.about = about
        self.done = done
        super.init(nibName: nil, bundle: nil)
    }

    @available(*, unavailable)
    required init?(coder: NSCoder) { nil }

    override func viewDidLoad() {
        super.viewDidLoad()
        view.layer.addSublayer(seen)
        let button = UIButton(type: .system)
        button.setTitle("Take", for: .normal)
        button.addTarget(self, action: #selector(take), for: .touchUpInside)
        button.translatesAutoresizingMaskIntoConstraints = false
        view.addSubview(button)
        NSLayoutConstraint.activate([
            button.centerXAnchor.constraint(equalTo: view.centerXAnchor),
            button.bottomAnchor.constraint(equalTo: view.safeAreaLayoutGuide.bottomAnchor, constant: -16),
        ])
        AVCaptureDevice.requestAccess(for: .video) { [self] granted in
            guard granted else { return DispatchQueue.main.async { self.done() } }
            queue.async { self.begin() }
        }
    }

    override func viewDidLayoutSubviews() {
        super.viewDidLayoutSubviews()
        seen.frame = view.bounds
    }

    override func viewDidDisappear(_ animated: Bool) {
        super.viewDidDisappear(animated)
        queue.async { self.session.stopRunning() }
    }

    private func begin() {
        guard let camera = AVCaptureDevice.default(for: .video),
              let input = try? AVCaptureDeviceInput(device: camera) else { return }
        session.beginConfiguration()
        session.sessionPreset = .photo
        if session.canAddInput(input) { session.addInput(input) }
        if session.canAddOutput(output) { session.addOutput(output) }
        session.commitConfiguration()
        session.startRunning()
    }

    /// HEIC where the camera has it, else JPEG.
    @objc private func take() {
        let heic = output.availablePhotoCodecTypes.contains(.hevc)
        let settings = AVCapturePhotoSettings(format: [AVVideoCodecKey: heic ? AVVideoCodecType.hevc : .jpeg])
        output.capturePhoto(with: settings, delegate: self)
    }

    func photoOutput(
        _ output: AVCapturePhotoOutput, didFinishProcessingPhoto photo: AVCapturePhoto, error: Error?
    ) {
        defer { DispatchQueue.main.async { self.done() } }
        let day = Day.shared
        guard let original = photo.fileDataRepresentation() else {
            return day.show(error?.localizedDescription ?? "The camera gave no picture. Take it again.")
        }
        let heic = !original.starts(with: [0xFF, 0xD8])
        // Of a HEIC the library asks for a JPEG beside it, to make the small picture of.
        let preview = heic ? UIImage(data: original)?.jpegData(compressionQuality: 0.8) : nil
        let file = FileManager.default.temporaryDirectory
            .appendingPathComponent("\(UUID().uuidString).\(heic ? "heic" : "jpg")")
        let about = about
        day.work.async {
            _ = day.attempt {
                try original.write(to: file)
                _ = try day.survey?.takePhoto(file: file, about: PhotoAbout(about: about, preview: preview))
            }
            try? FileManager.default.removeItem(at: file)
        }
    }
}
